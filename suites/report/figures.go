package report

import (
	"cmp"
	"math"
	"slices"

	"kilter/suites/verdict"
)

// figure is one plot drawn at both widths, with its caption.
type figure struct {
	Title   string
	Caption string
	Wide    string
	Narrow  string
}

type drawable interface{ draw(width float64) string }

func newFigure(title, caption string, d drawable) figure {
	return figure{Title: title, Caption: caption, Wide: d.draw(wide), Narrow: d.draw(narrow)}
}

// palette gives each device one colour for the whole page. Batteries come
// first, since they are what the run is about; an eighth device starts over
// with dashes.
type palette map[string]string

var hues = []string{"c1", "c2", "c3", "c4", "c5", "c6", "c7"}

func newPalette(columns []Column) palette {
	p := palette{}
	used := 0
	for _, kind := range []Kind{Inverter, Array, Charger, Load, Meter, SOC, Other, Voltage, Frequency} {
		for _, c := range columns {
			if _, known := p[c.Device]; c.Kind != kind || known {
				continue
			}
			p[c.Device] = hues[used%len(hues)] + dashes(used/len(hues))
			used++
		}
	}
	return p
}

func dashes(round int) string {
	switch round {
	case 0:
		return ""
	case 1:
		return " dash"
	}
	return " dots"
}

func (p palette) inks(columns []Column) []ink {
	var inks []ink
	for _, c := range columns {
		inks = append(inks, ink{c, p.class(c)})
	}
	return inks
}

// class returns the column's colour: the site's own flows are drawn in the
// colour of the text.
func (p palette) class(c Column) string {
	switch c.Kind {
	case Grid, NetLoad:
		return "c0"
	case Circulating:
		return "c4"
	case Wanted:
		return p[c.Device] + " dots"
	}
	return p[c.Device]
}

// page-wide settings of the whole-run figures.
type overview struct {
	series Series
	colour palette
	flags  []flag
}

// figures returns the plots of the whole run on one shared time axis. A
// figure without data is left out.
func (o overview) figures() []figure {
	s := o.series
	if s.rows() < 2 {
		return nil
	}
	var all []figure
	add := func(title, caption string, p panel) {
		if len(p.lines)+len(p.stack) > 0 {
			all = append(all, newFigure(title, caption, p))
		}
	}

	grid := o.panel("Grid flow", 190, s.of(Grid))
	grid.limits, grid.wanted = gridLimits(s.Bounds), s.Bounds.Wanted
	add("Grid flow", "Import is positive, export negative. Shaded ground lies beyond a limit; the solid area is what went there.", grid)

	stack := o.panel("Power by device", 230, nil)
	stack.stack = o.colour.inks(s.of(Load, Charger, Inverter, Array))
	stack.lines = o.colour.inks(s.of(Grid))
	stack.setUnit(s.of(Load, Charger, Inverter, Array), stack.stepS)
	if len(stack.stack) > 0 {
		add("Power by device", "Consumption and charging pile up above zero, production and discharging below it; the two edges add up to the grid flow.", stack)
	}

	add("Net load", "What loads, charger and sun ask for together; the batteries are not in it.", o.panel("Net load", 110, s.of(NetLoad)))
	add("Inverter power", "Charging is positive, discharging negative.", o.panel("Inverter power", 170, s.of(Inverter)))
	for _, c := range s.of(Inverter) {
		aims := slices.DeleteFunc(s.of(Wanted), func(w Column) bool { return w.Device != c.Device })
		if len(aims) > 0 {
			add("Inverter "+c.Label, "Its power, and what it aims at after its own limits.", o.panel("Inverter "+c.Label, 110, append([]Column{c}, aims...)))
		}
	}
	add("Circulating power", "What one battery charges while another discharges: it serves nobody and costs losses.",
		o.panel("Circulating power", 110, s.of(Circulating)))
	add("State of charge", "", o.panel("State of charge", 150, s.of(SOC)))
	add("Voltage", "", o.panel("Voltage", 110, s.of(Voltage)))
	add("Frequency", "", o.panel("Frequency", 110, s.of(Frequency)))
	add("Charger", "", o.panel("Charger", 110, s.of(Charger)))

	if commanded := lanesOf(s.Marks, 0, s.endS()); len(commanded) > 0 {
		all = append(all, newFigure("Commands", "One lane for each commanded register; a tick for each write, the value where it changes.",
			lanes{from: 0, to: s.endS(), start: s.StartLocal, flags: o.flags, lanes: commanded}))
	}
	if len(s.States) > 0 {
		all = append(all, newFigure("States", "What inverters and charger were in, and which links were sick.",
			states{from: 0, to: s.endS(), start: s.StartLocal, flags: o.flags, lanes: s.States}))
	}
	return all
}

// panel returns an empty plot over the whole run, scaled for the columns.
func (o overview) panel(name string, height float64, columns []Column) panel {
	p := panel{name: name, height: height, from: 0, to: o.series.endS(), stepS: o.series.StepS,
		start: o.series.StartLocal, flags: o.flags, lines: o.colour.inks(columns)}
	p.setUnit(columns, o.series.StepS)
	return p
}

// setUnit chooses how the axis reads: kilo units where the figures are
// large, per cent for a state of charge, and zero in the picture for powers.
func (p *panel) setUnit(columns []Column, stepS float64) {
	p.factor, p.lo, p.hi = 1, math.Inf(1), math.Inf(-1)
	if len(columns) == 0 {
		p.lo, p.hi = 0, 0
		return
	}
	p.unit = columns[0].Unit
	if columns[0].Kind == SOC {
		p.unit, p.factor, p.lo, p.hi = "%", 100, 0, 1
		return
	}
	if !slices.Contains([]string{"W", "var", "VA", "Wh"}, p.unit) {
		return
	}
	p.lo, p.hi = 0, 0
	peak := 0.0
	for _, c := range columns {
		first, end := span{from: p.from, to: p.to, stepS: stepS}.rows(len(c.Values))
		for _, v := range c.Values[first:end] {
			if a := math.Abs(v); a > peak && plottable(v) {
				peak = a
			}
		}
	}
	if peak >= 2000 {
		p.unit, p.factor = "k"+p.unit, 1e-3
	}
}

// gridLimits turns the declared amounts into levels of the grid flow.
func gridLimits(b Bounds) []limit {
	var all []limit
	if v, known := b.ImportW.Value(); known && plottable(v) {
		all = append(all, limit{at: v, side: verdict.AtMost, label: "import limit " + verdict.Quantity(b.ImportW, "W")})
	}
	if v, known := b.ExportW.Value(); known && plottable(v) {
		all = append(all, limit{at: -v, side: verdict.AtLeast, label: "export limit " + verdict.Quantity(b.ExportW, "W")})
	}
	return all
}

// flagsOf numbers the happenings and letters the failures.
func flagsOf(happenings []Mark, failures []verdict.Criterion) []flag {
	var flags []flag
	for i, m := range happenings {
		flags = append(flags, flag{at: m.AtS, sign: sign(i)})
	}
	for i, c := range failures {
		if at, known := c.AtS.Value(); known {
			flags = append(flags, flag{at: at, sign: letter(i), fail: true})
		}
	}
	slices.SortStableFunc(flags, func(a, b flag) int { return cmp.Compare(a.at, b.at) })
	return flags
}

package report

import (
	"math"
	"slices"
	"strings"

	"kilter/suites/verdict"
)

// leastAround is how much of the run a close-up shows on either side of the
// worst moment: enough to see what led there and what followed.
const leastAround = 180.0

// closeups returns the plots around a failure's worst moment: the judged
// column with its limit, what the batteries did, and what they were told.
func (o overview) closeups(c verdict.Criterion, name string) []figure {
	at, known := c.AtS.Value()
	s := o.series
	if !known || s.rows() < 2 {
		return nil
	}
	moment := worst{at: at, from: at, to: at, label: "worst at " + verdict.Moment(at)}
	if from, known := c.FromS.Value(); known {
		moment.from = math.Min(from, at)
	}
	if to, known := c.ToS.Value(); known {
		moment.to = math.Max(to, at)
	}
	if first, known := c.FirstS.Value(); known && first < at {
		moment.onset, moment.begun = first, "broken since "+verdict.Moment(first)
	}
	around := math.Max(leastAround, 0.5*(moment.to-moment.from))
	begins := moment.from
	if moment.begun != "" {
		begins = math.Min(begins, moment.onset)
	}
	from, to := math.Max(0, begins-around), math.Min(s.endS(), moment.to+around)
	if to-from < 2*s.StepS {
		return nil
	}
	var flags []flag
	for _, f := range o.flags {
		if !f.fail && math.Abs(f.at-at) > (to-from)/50 { // The moment's own label has that place.
			flags = append(flags, f)
		}
	}

	judged := judgedColumns(s, c)
	var all []figure
	add := func(title, caption string, height float64, columns []Column, limits []limit) {
		if len(columns) == 0 {
			return
		}
		p := panel{name: title, height: height, from: from, to: to, stepS: s.StepS, start: s.StartLocal,
			lines: o.colour.inks(columns), limits: limits, worst: &moment, flags: flags}
		if columns[0].Kind == Grid {
			p.wanted = s.Bounds.Wanted
		}
		p.setUnit(columns, s.StepS)
		if columns[0].Kind == SOC { // A few minutes of charge need a finer axis than the whole.
			p.lo, p.hi = math.Inf(1), math.Inf(-1)
		}
		all = append(all, newFigure("Failure "+name+": "+title, caption, p))
	}
	if len(judged) > 0 {
		limits := judgedLimits(judged[0], c)
		caption := ""
		if len(limits) > 0 {
			caption = "Shaded ground lies beyond the limit; the solid area is what went there."
		}
		title := judged[0].Label
		if judged[0].Kind == SOC {
			title = "state of charge"
		}
		add(title, caption, 200, sameUnit(judged), limits)
	}
	if told := s.told(judged); len(told) > 1 {
		add("what was told of it", "What flowed, and what the controller could read of it at that time: late, and with the meter's errors.", 120, told, nil)
	}
	batteries := slices.DeleteFunc(s.of(Inverter), func(c Column) bool { // Those judged show already.
		return slices.ContainsFunc(judged, func(j Column) bool { return j.Name == c.Name })
	})
	add("inverter power", "", 120, batteries, nil)
	if commanded := lanesOf(s.Marks, from, to); len(commanded) > 0 {
		all = append(all, newFigure("Failure "+name+": commands", "",
			lanes{from: from, to: to, start: s.StartLocal, lanes: commanded,
				flags: append(flags, flag{at: at, sign: name, fail: true})}))
	}
	return all
}

// families tell which column a criterion judges by the first word of its
// name, where the verdict itself names none.
var families = []struct {
	word string
	kind Kind
}{
	{"import", Grid}, {"export", Grid}, {"settle", Grid}, {"hunting", Grid},
	{"circulating", Circulating}, {"soc", SOC}, {"reserve", SOC}, {"schedule", SOC},
	{"supply", Grid}, {"fuse", Grid}, {"avoidable", Grid},
}

func judgedColumns(s Series, c verdict.Criterion) []Column {
	if named := s.named(c.Columns); len(named) > 0 {
		return named
	}
	for _, f := range families {
		if strings.HasPrefix(c.Name, f.word) {
			return s.of(f.kind)
		}
	}
	return s.of(Grid)
}

// told returns the judged column and what meters told of it, or nothing where none did.
func (s Series) told(judged []Column) []Column {
	if len(judged) == 0 {
		return nil
	}
	columns := []Column{judged[0]}
	for _, c := range s.Columns {
		if c.Tells != "" && c.Tells == judged[0].Name {
			columns = append(columns, c)
		}
	}
	return columns
}

// toldThen says in words what the controller could read at the worst moment, against what was true.
func (s Series) toldThen(c verdict.Criterion) string {
	at, known := c.AtS.Value()
	if !known || s.rows() == 0 {
		return ""
	}
	judged := judgedColumns(s, c)
	row := int(math.Round(at / s.StepS))
	if row < 0 || row >= s.rows() {
		return ""
	}
	text := ""
	for i, told := range s.told(judged) {
		figure := Minus(verdict.Quantity(verdict.Of(told.Values[row]), told.Unit))
		switch {
		case i == 0:
			text = "the true " + told.Label + " was " + figure
		case i == 1:
			text = told.Label + " " + figure + ", while " + text
		default:
			text = told.Label + " " + figure + ", " + text
		}
	}
	if len(s.told(judged)) < 2 {
		return ""
	}
	return text
}

// judgedLimits returns the limit as a level of the column, where it is one.
// A limit on an amplitude, a duration or a count is none, and drawing it
// across the plot would mislead.
func judgedLimits(column Column, c verdict.Criterion) []limit {
	label := "limit " + verdict.QuantityBeside(c.Limit, c.Observed, c.Unit)
	if at, known := c.TraceLimit.Value(); known && plottable(at) && c.Bound != "" {
		side := c.Bound
		if v, known := c.Limit.Value(); known && v != 0 && at == -v {
			side = opposite(side)
		}
		return []limit{{at: at, side: side, label: label}}
	}
	at, known := c.Limit.Value()
	if !known || !plottable(at) || c.Unit != column.Unit {
		return nil
	}
	switch {
	case !levelClause(c):
		return nil
	case column.Kind == Grid && c.Name == "import", column.Kind == Circulating && c.Name == "circulating":
		return []limit{{at: at, side: verdict.AtMost, label: label}}
	case column.Kind == Grid && c.Name == "export":
		return []limit{{at: -at, side: verdict.AtLeast, label: label}}
	}
	return nil
}

func opposite(b verdict.Bound) verdict.Bound {
	if b == verdict.AtMost {
		return verdict.AtLeast
	}
	return verdict.AtMost
}

// sameUnit keeps the columns that can share the first one's axis.
func sameUnit(columns []Column) []Column {
	var kept []Column
	for _, c := range columns {
		if c.Unit == columns[0].Unit && (c.Kind == SOC) == (columns[0].Kind == SOC) {
			kept = append(kept, c)
		}
	}
	return kept
}

// levelClause says that the criterion judges the level itself, and not the
// energy or the length of an episode.
func levelClause(c verdict.Criterion) bool { return c.Clause == "" || c.Clause == "level" }

// Package trace keeps what a run looked like, and writes it as Parquet or CSV: one row a
// second from the start on, each with the values at its instant and, where they
// matter, the extremes since the row before.
package trace

import (
	"fmt"

	"kilter/physics"
	"kilter/scenarios"
)

// Kind says what a column holds, for those who draw it.
type Kind string

// The kinds of column.
const (
	Grid        Kind = "grid"
	NetLoad     Kind = "net_load"
	Inverter    Kind = "inverter"
	SOC         Kind = "soc"
	Meter       Kind = "meter"
	Array       Kind = "array"
	Load        Kind = "load"
	Charger     Kind = "charger"
	Circulating Kind = "circulating"
	Voltage     Kind = "voltage"
	Wanted      Kind = "wanted" // what an inverter's own control aims at
	State       Kind = "state"  // a number that stands for one of the column's words
)

// Column is one quantity over the run. Min and Max are nil where the value at the end
// of each second says enough.
type Column struct {
	Name     string   // as in the files
	Device   string   // the device or the conductor that it belongs to, or empty
	Unit     string   // empty for a state of charge, 0 to 1
	Words    []string // what a state's numbers stand for
	Kind     Kind
	Values   []float64
	Min, Max []float64
}

// Recorder builds the columns, one step at a time.
type Recorder struct {
	StepS   float64 // distance of two rows [s]
	TimesS  []float64
	Columns []Column

	ticksPerRow int64
	sources     []source    // by column
	extremes    []extremes  // of the columns that have them
	fresh       bool        // the row has no step yet
	full        chan []leaf // takes what there is whenever there are many new rows; nil where nobody packs them
}

// source is where a column's value stands in the plant, or how it is worked out. A place is looked at much quicker, which counts in
// every step.
type source struct {
	at  *float64 // nil where it is worked out
	how func() float64
}

func (s *source) value() float64 {
	if s.at != nil {
		return *s.at
	}
	return s.how()
}

// extremes are those of one column since the last row.
type extremes struct {
	source
	column    int
	low, high float64
}

// New makes a recorder for a plant. It allocates for the whole run, so that
// recording allocates nothing.
func New(sc *scenarios.Scenario, p *physics.Plant) *Recorder {
	r := &Recorder{StepS: 1, fresh: true}
	r.ticksPerRow = max(1, 1000/sc.Step.Milliseconds())
	r.StepS = float64(r.ticksPerRow) * sc.Step.Seconds()
	rows := int(sc.Lasts.Seconds()/r.StepS) + 2
	add := func(name, device, unit string, k Kind, withExtremes bool, from source) {
		c := Column{Name: name, Device: device, Unit: unit, Kind: k, Values: make([]float64, 0, rows)}
		if withExtremes {
			c.Min, c.Max = make([]float64, 0, rows), make([]float64, 0, rows)
			r.extremes = append(r.extremes, extremes{source: from, column: len(r.Columns)})
		}
		r.Columns = append(r.Columns, c)
		r.sources = append(r.sources, from)
	}
	at := func(place *float64) source { return source{at: place} }
	by := func(how func() float64) source { return source{how: how} }
	add("grid_w", "", "W", Grid, true, at(&p.GridW))
	add("net_load_w", "", "W", NetLoad, true, at(&p.NetLoadW))
	if len(p.Inverters) > 1 {
		add("circulating_w", "", "W", Circulating, true, by(func() float64 { return circulating(p) }))
	}
	for i := range p.Site().Phases {
		line := fmt.Sprintf("l%d", i+1)
		add("voltage_"+line+"_v", line, "V", Voltage, false, by(func() float64 { return p.VoltageV(physics.L1 + physics.Phases(i)) }))
	}
	for _, d := range sc.Site.Devices {
		i := d.Index
		switch d.Kind {
		case scenarios.Inverter:
			add(d.Name+"_w", d.Name, "W", Inverter, true, at(&p.Inverters[i].PowerW))
			add(d.Name+"_soc", d.Name, "", SOC, false, at(&p.Inverters[i].Battery.SOC))
			add(d.Name+"_wanted_w", d.Name, "W", Wanted, false, at(&p.Inverters[i].WantedW))
			add(d.Name+"_mode", d.Name, "", State, false, by(func() float64 { return inverterState(&p.Inverters[i]) }))
			r.Columns[len(r.Columns)-1].Words = inverterStates
		case scenarios.Meter:
			add(d.Name+"_w", d.Name, "W", Meter, false, at(&p.Meters[i].ReadingW))
		case scenarios.Array:
			add(d.Name+"_w", d.Name, "W", Array, true, at(&p.Arrays[i].PowerW))
		case scenarios.Load:
			add(d.Name+"_w", d.Name, "W", Load, true, at(&p.Loads[i].PowerW))
		case scenarios.Charger:
			add(d.Name+"_w", d.Name, "W", Charger, false, at(&p.Chargers[i].PowerW))
			add(d.Name+"_state", d.Name, "", State, false, by(func() float64 { return chargerState(&p.Chargers[i]) }))
			r.Columns[len(r.Columns)-1].Words = chargerStates
		}
	}
	r.TimesS = make([]float64, 0, rows)
	r.Step(p) // the first row is the start
	return r
}

// circulating is the power that batteries pass to one another [W].
func circulating(p *physics.Plant) float64 {
	in, out := 0.0, 0.0
	for i := range p.Inverters {
		if w := p.Inverters[i].BatteryW; w > 0 {
			in += w
		} else {
			out -= w
		}
	}
	return min(in, out)
}

// Step records the plant's state after a step.
func (r *Recorder) Step(p *physics.Plant) {
	for i := range r.extremes {
		e := &r.extremes[i]
		v := e.value()
		if r.fresh {
			e.low, e.high = v, v
		} else {
			e.low, e.high = min(e.low, v), max(e.high, v)
		}
	}
	if r.fresh = p.Tick()%r.ticksPerRow == 0; r.fresh {
		r.row(float64(p.TimeMS()) / 1000)
	}
}

// row ends a row.
func (r *Recorder) row(timeS float64) {
	for i := range r.Columns {
		r.Columns[i].Values = append(r.Columns[i].Values, r.sources[i].value())
	}
	for i := range r.extremes {
		e := &r.extremes[i]
		c := &r.Columns[e.column]
		c.Min, c.Max = append(c.Min, e.low), append(c.Max, e.high)
	}
	r.TimesS = append(r.TimesS, timeS)
	if r.full != nil && len(r.TimesS)%rowsAtOnce == 0 {
		r.full <- r.leaves()
	}
}

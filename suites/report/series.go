package report

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"

	"kilter/suites/verdict"
)

// Kind says what a column holds, and with that the figures it enters.
type Kind string

// Power columns follow the load convention: into the device is positive, so
// grid flow is positive on import and an array's power is negative. SOC is
// 0 to 1. Kinds without a figure of their own (meter readings) show where a
// criterion names their column.
const (
	Grid        Kind = "grid"
	Meter       Kind = "meter"
	Inverter    Kind = "inverter"
	Load        Kind = "load"
	Array       Kind = "array"
	Charger     Kind = "charger"
	SOC         Kind = "soc"
	Circulating Kind = "circulating"
	NetLoad     Kind = "net_load"
	Voltage     Kind = "voltage"
	Frequency   Kind = "frequency"
	Wanted      Kind = "wanted" // what an inverter's own control aims at
	Other       Kind = "other"
)

// Column is one signal of the run. Row i stands for the time i*StepS.
type Column struct {
	// Name is the trace column's name; Label is for people, and is Name
	// where empty.
	Name, Label string
	// Device ties columns of one device together, so that the power and the
	// SOC of one battery share a colour. It is Name where empty.
	Device string
	Unit   string
	Kind   Kind
	// Values may hold NaN where there was nothing to record.
	Values []float64
	// Tells names the column whose truth a meter's reading tells, where the controller can read it.
	Tells string
	// Min and Max are the extremes within each row; nil where Values is all
	// there is.
	Min, Max []float64

	index int // among the columns of the series
}

// MarkKind says what happened at a mark.
type MarkKind string

// Events and faults come from the scenario, commands from the controller.
const (
	Event   MarkKind = "event"
	Fault   MarkKind = "fault"
	Command MarkKind = "command"
)

// Mark is something that happened at one moment.
type Mark struct {
	AtS   float64
	Label string
	Kind  MarkKind
	// Lane, Value and Unit are for commands: the commanded register
	// ("north charge_limit") and what was written to it. Label may be empty
	// then.
	Lane  string
	Value float64
	Unit  string
}

// Window is a span of simulated time.
type Window struct {
	FromS, ToS float64
	Label      string
}

// Bounds are what the scenario declares of the grid flow. The limits are
// amounts: an export limit of 5 kW is 5000 and is drawn at -5 kW.
type Bounds struct {
	ImportW, ExportW verdict.Number
	// Wanted are windows in which import is wanted.
	Wanted []Window
}

// Series is the run as it is drawn.
type Series struct {
	// StepS is the spacing of rows in seconds; 0 means 1 s.
	StepS float64
	// StartLocal is the scenario's start in its own zone. The zero time
	// leaves the local clock out of the figures.
	StartLocal time.Time
	Columns    []Column
	Marks      []Mark
	Bounds     Bounds
	// States are what the inverters, the chargers and the links were in.
	States []StateLane
}

// Wiring is the site as an electrician draws it: a feeder or a device, and
// what hangs beneath it.
type Wiring struct {
	Name, Kind, Detail string
	// Symbol is how the single-line diagram draws it, where its kind says too little: a heater, a motor.
	Symbol string
	// Reversed says of a meter that it is fitted the wrong way round.
	Reversed bool
	// Sees lists, for a meter, the devices whose sum it reads.
	Sees   []string
	Within []Wiring
}

// prepared returns the series with its defaults filled in, its columns
// checked and its marks in order of time.
func (s Series) prepared() (Series, error) {
	if s.StepS == 0 {
		s.StepS = 1
	}
	if !(s.StepS >= 0.001 && s.StepS <= 86400) {
		return s, fmt.Errorf("report: step: found %g s, want 1 ms to one day", s.StepS)
	}
	s.Columns = slices.Clone(s.Columns)
	for i := range s.Columns {
		c := &s.Columns[i]
		c.index = i
		if c.Label == "" {
			c.Label = c.Name
		}
		if c.Device == "" {
			c.Device = c.Name
		}
		if len(c.Values) != len(s.Columns[0].Values) {
			return s, fmt.Errorf("report: column %q: found %d rows, but %q has %d", c.Name, len(c.Values),
				s.Columns[0].Name, len(s.Columns[0].Values))
		}
		for _, extreme := range [][]float64{c.Min, c.Max} {
			if extreme != nil && len(extreme) != len(c.Values) {
				return s, fmt.Errorf("report: column %q: found %d extremes for %d rows", c.Name, len(extreme), len(c.Values))
			}
		}
		if (c.Min == nil) != (c.Max == nil) {
			return s, fmt.Errorf("report: column %q: found only one of the two extremes, want both or none", c.Name)
		}
	}
	s.Marks = slices.Clone(s.Marks)
	for _, m := range s.Marks {
		if math.IsNaN(m.AtS) || math.IsInf(m.AtS, 0) {
			return s, fmt.Errorf("report: mark %q: found time %g s, want a finite one", m.Label, m.AtS)
		}
	}
	slices.SortStableFunc(s.Marks, func(a, b Mark) int { return cmp.Compare(a.AtS, b.AtS) })
	return s, nil
}

// plottable says that a figure can be drawn. What is beyond is a mistake of
// its writer, and would push every other figure flat or overflow the axis.
func plottable(v float64) bool { return math.Abs(v) <= 1e12 }

// rows returns how many rows the series has.
func (s Series) rows() int {
	if len(s.Columns) == 0 {
		return 0
	}
	return len(s.Columns[0].Values)
}

// endS returns the time of the last row.
func (s Series) endS() float64 { return float64(s.rows()-1) * s.StepS }

// of returns the columns of the given kinds, in their own order.
func (s Series) of(kinds ...Kind) []Column {
	var found []Column
	for _, c := range s.Columns {
		if slices.Contains(kinds, c.Kind) {
			found = append(found, c)
		}
	}
	return found
}

// named returns the columns of the given names, in the order of the names.
func (s Series) named(names []string) []Column {
	var found []Column
	for _, name := range names {
		for _, c := range s.Columns {
			if c.Name == name {
				found = append(found, c)
			}
		}
	}
	return found
}

// happenings returns events and faults, which are numbered in the figures.
func (s Series) happenings() []Mark {
	var found []Mark
	for _, m := range s.Marks {
		if m.Kind != Command {
			found = append(found, m)
		}
	}
	return found
}

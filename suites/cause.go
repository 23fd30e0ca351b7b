package suites

import (
	"kilter/emulator/registers"
	"kilter/emulator/trace"
	"kilter/scenarios"
	"kilter/suites/verdict"
)

// cause tells what is remembered of a failure.
func (s *scene) cause(sc *scenarios.Scenario, rec *trace.Recorder) *verdict.Cause {
	seconds := func(tick int64) verdict.Number { return verdict.Seconds(float64(tick) * sc.Step.Seconds()) }
	devices := newSetting(sc).devices
	c := &verdict.Cause{AtS: seconds(s.breach), FoundS: seconds(s.found), Commands: []verdict.CommandGiven{}, Reads: []verdict.ValueRead{}}
	for _, x := range s.commands {
		value, unit := shown(x.Signal, x.Value)
		c.Commands = append(c.Commands, verdict.CommandGiven{
			AtS: seconds(x.Tick), Device: x.Device, Signal: x.Signal.String(), Value: value, Unit: unit, Word: x.Signal.Word(x.Value), Lapsed: x.Lapsed,
		})
	}
	for _, x := range s.reads {
		told, unit := shown(x.Signal, x.Told)
		truth, _ := shown(x.Signal, x.True)
		c.Reads = append(c.Reads, verdict.ValueRead{
			AtS: seconds(x.Tick), Device: devices[x.Place], Signal: x.Signal.String(), Told: told, True: truth, Unit: unit,
		})
	}
	c.Truth = truth(rec, float64(s.breach)*sc.Step.Seconds())
	return c
}

// shown is a value in the unit in which people read it.
func shown(s registers.Signal, v float64) (verdict.Number, string) {
	if s.IsFraction() {
		return thousandths(100 * v), "%"
	}
	return thousandths(v), s.Unit()
}

// truth is the site at a time, from the trace.
func truth(rec *trace.Recorder, atS float64) []verdict.Figure {
	row := int(atS / rec.StepS)
	var list []verdict.Figure
	for i := range rec.Columns {
		c := &rec.Columns[i]
		if row >= len(c.Values) {
			continue
		}
		switch c.Kind {
		case trace.Grid, trace.NetLoad, trace.Inverter:
			list = append(list, verdict.Figure{Name: c.Name, Value: thousandths(c.Values[row]), Unit: c.Unit})
		case trace.SOC:
			list = append(list, verdict.Figure{Name: c.Name, Value: thousandths(100 * c.Values[row]), Unit: "%"})
		}
	}
	return list
}

package learn

import (
	"fmt"
	"math"

	"kilter/physics"
	"kilter/scenarios"
	"kilter/suites/fieldlog"
)

// Options tune what is learned.
type Options struct {
	Known    *scenarios.Site                  // what is known of the site already; its inverters go by their names
	Progress func(what string, share float64) // called as the work goes on; may be nil
}

// Result is all that was learned from a log.
type Result struct {
	Log       *fieldlog.Log
	Findings  []fieldlog.Finding
	Window    Window
	Units     []*Learned
	Batteries []Battery
	Cause     Cause
	CauseText string
	Known     *scenarios.Site

	rest    []float64
	jumps   []jump
	devices []Device // as the scenario has them
}

// Learn estimates what a log tells of its site.
func Learn(l *fieldlog.Log, opt Options) (*Result, error) {
	if opt.Progress == nil {
		opt.Progress = func(string, float64) {}
	}
	r := &Result{Log: l, Known: opt.Known, Findings: append(l.Findings, fieldlog.Check(l)...)}
	opt.Progress("log checked", 0.05)
	var err error
	if r.Window, err = choose(l); err != nil {
		return nil, err
	}
	if l.StepS > 60 {
		return nil, fmt.Errorf("%s: found a value each %g s, wanted at least one a minute: the devices' answers are over long before the next value", l.File, l.StepS)
	}
	rec := &r.Window.Record
	opt.Progress(fmt.Sprintf("window of %d values from %s chosen", len(rec.GridW), l.At(r.Window.From).Format("2006-01-02 15:04:05")), 0.1)
	w := newWorkshop(rec)
	r.Units = w.identify(func(share float64) { opt.Progress("devices fitted", 0.1+0.8*share) })
	r.rest = w.rest
	r.devices, r.jumps = trim(rec, w.rest, w.jumps, r.Units)
	for i := range l.Units {
		b := battery(&l.Units[i], l.StepS, r.Window.From)
		r.Batteries = append(r.Batteries, b)
	}
	r.Cause, r.CauseText = decide(rec, r.Units)
	return r, nil
}

// limit is what is known of a largest power: where the unit stood at it, what was fitted where its loop was cut off at it, or that it is
// more than was seen, and than its loop asked for.
func limit(stoodW, peakW, askedW float64, fitted *Estimate, way string) Estimate {
	switch {
	case stoodW > 0:
		half := max(plateauShare*stoodW, 2)
		return Estimate{Value: stoodW, Low: stoodW - half, High: stoodW + half, Identifiable: true}
	case fitted != nil:
		return *fitted
	}
	return Estimate{Value: roundUp(max(1.25*peakW, askedW)), Low: peakW, High: math.Inf(1), Why: fmt.Sprintf("it was never seen %s with all that it can: at least %.0f W", way, peakW)}
}

// roundUp gives the next hundred watts.
func roundUp(w float64) float64 { return math.Ceil(w/100) * 100 }

// known is what the site at hand says of an inverter; nil where it says nothing.
func (r *Result) known(name string) *physics.InverterParams {
	if r.Known == nil {
		return nil
	}
	for i := range r.Known.Plant.Inverters {
		if r.Known.Plant.Inverters[i].Name == name {
			return &r.Known.Plant.Inverters[i]
		}
	}
	return nil
}

// Advice says what to record to learn more, each thing once.
func (r *Result) Advice() []string {
	var list []string
	step := r.Window.Record.StepS
	if step > 1 {
		list = append(list, fmt.Sprintf("Log each second, or faster: a value each %g s hides all that loops do within.", step))
	}
	little, ramp := false, false
	for i, l := range r.Units {
		little = little || !l.Gain.Identifiable || !l.Lateness.Identifiable || !l.Offset.Identifiable
		ramp = ramp || !l.Ramp.Identifiable
		if r.Log.Units[i].SOC == nil {
			list = append(list, fmt.Sprintf("Log %s's state of charge over a whole charge and discharge: capacity and efficiency follow from it.", l.Name))
		}
	}
	if little {
		list = append(list, "Log while loads of a kilowatt or more are switched every minute or so, for a quarter of an hour: a kettle is enough.")
	}
	if ramp {
		list = append(list, "A ramp limit shows only when it holds the output back: switch a load of more than a kilowatt, or release one.")
	}
	for _, l := range r.Units {
		if !l.ChargeLimit.Identifiable || !l.DischargeLimit.Identifiable {
			list = append(list, fmt.Sprintf("%s was not seen at its largest power both ways; its name plate tells it.", l.Name))
		}
	}
	if r.Cause != Native {
		list = append(list, "Log what the controller commands, in the same file as the powers.")
	}
	list = append(list, "Log each inverter's own meter reading, where it shows one: it tells the meter's offset, latency and refresh apart from the loop.")
	return list
}

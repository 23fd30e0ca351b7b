package scenarios

import (
	"cmp"
	"math"
	"slices"

	"kilter/physics"
)

// The words for what a native loop does.
var (
	loopForms = map[string]physics.LoopForm{
		"integrating": physics.Integrating, "from actual": physics.FromActual, "feed forward": physics.FeedForward,
	}
	deadbands = map[string]physics.DeadbandKind{
		"whole error": physics.WholeError, "remainder": physics.Remainder, "hysteresis": physics.Hysteresis,
	}
)

func (b *siteBuilder) inverter(name string, feeder int, f *inverterFile) physics.InverterParams {
	v := physics.InverterParams{
		Name: name, Feeder: feeder, Phases: b.phases(f.Phases),
		RatingW: f.Rating.v, Efficiency: f.Efficiency.v, DeadTimeS: b.ticks(f.DeadTime),
		RampUpWps: f.RampUp.v, RampDownWps: f.RampDown.v, LagS: f.Lag.v,
		ReconnectS: b.ticks(f.Reconnect), CommandLifeS: b.ticks(f.CommandLife),
		SelfConsumptionW: f.Own.v, StandbyW: f.Standby.v, ResolutionW: f.Resolution.v, MinimumW: f.Smallest.v,
		ChangeoverS: b.ticks(f.Changeover), Timed: b.timed(f.Timed), Backup: b.backup(feeder, f.Backup),
		Response: b.answers(f.Answers, f.Rating.v), InitialW: f.Initial.v,
		Loop: physics.LoopParams{Meter: -1},
	}
	if f.Form.s == "part load" {
		v.EfficiencyForm = physics.PartLoadEfficiency
	}
	if math.Abs(v.InitialW) > v.RatingW {
		b.add(f.Initial.at, shownAs("power", v.InitialW), "at most the rating of "+shownAs("power", v.RatingW), "")
	}
	b.sandia(&v, f)
	b.loop(&v, f.Loop)
	if f.Battery != nil {
		v.Battery = b.battery(f.Battery, &v)
	}
	return v
}

func (b *siteBuilder) loop(v *physics.InverterParams, f *loopFile) {
	if f == nil {
		return
	}
	v.Loop = physics.LoopParams{
		Meter: -1, Gain: f.Gain.v, PeriodS: b.ticks(f.Period), PhaseS: b.ticks(f.Phase),
		TargetW: f.Target.v, DeadbandW: f.Deadband.v, Leak: f.Leak.v,
		Form: loopForms[f.Form.s], Deadband: deadbands[f.Beyond.s], Windup: f.Windup.s == "yes",
	}
	b.lessThan(f.Phase, f.Period, "the period")
	p, at := &b.site.Plant, len(b.site.Plant.Inverters)
	b.follows(f.Follows, func(i int) { p.Inverters[at].Loop.Meter = i })
}

func (b *siteBuilder) sandia(v *physics.InverterParams, f *inverterFile) {
	s := f.Sandia
	if s == nil {
		return
	}
	if f.Form.set {
		b.add(f.Form.at, "an efficiency_form beside sandia", "one of the two", "")
	}
	if s.RatedAC.v >= s.RatedDC.v {
		b.add(s.RatedDC.at, shownAs("power", s.RatedDC.v), "more than rated_ac", "")
	}
	if s.Start.v >= s.RatedDC.v {
		b.add(s.Start.at, shownAs("power", s.Start.v), "less than rated_dc", "")
	}
	v.EfficiencyForm = physics.SandiaEfficiency
	v.Sandia = physics.SandiaInverter{
		RatedACW: s.RatedAC.v, RatedDCW: s.RatedDC.v, RatedV: s.RatedV.v, StartW: s.Start.v,
		C0: s.C0.v, C1: s.C1.v, C2: s.C2.v, C3: s.C3.v, NightW: s.Night.v,
	}
}

// timed lays an inverter's own windows on the run, in the order of time.
func (b *siteBuilder) timed(list list[*timedFile]) []physics.TimedMode {
	type laid struct {
		physics.TimedMode
		from text
	}
	var all []laid
	for _, f := range list {
		if f.Charge.set == f.Discharge.set {
			b.add(f.At, "a window with both or neither of charge and discharge", "one of the two", "")
		}
		windows, _ := b.clock.spans(f.From, f.To)
		for _, w := range windows {
			mode := physics.TimedMode{FromMS: w.From.Milliseconds(), ToMS: w.To.Milliseconds(), PowerW: f.Charge.v - f.Discharge.v}
			if mode.ToMS > mode.FromMS {
				all = append(all, laid{mode, f.From})
			}
		}
	}
	slices.SortStableFunc(all, func(x, y laid) int { return cmp.Compare(x.FromMS, y.FromMS) })
	var modes []physics.TimedMode
	for i, one := range all {
		if i > 0 && one.FromMS < all[i-1].ToMS {
			b.add(one.from.at, "a window that begins within another", "windows one after the other", "the other stands at "+all[i-1].from.at.String())
			return modes
		}
		modes = append(modes, one.TimedMode)
	}
	return modes
}

// backup finds the feeder that an inverter carries. Feeders above it are known
// by now, since a parent is laid before its children.
func (b *siteBuilder) backup(feeder int, f *backupFile) *physics.BackupParams {
	if f == nil {
		return nil
	}
	p := &physics.BackupParams{ChangeoverS: b.ticks(f.Changeover), OverloadBy: f.Overload.v, OverloadS: f.Bears.v}
	var names []string
	for i := feeder; i > 0; i = b.site.Plant.Feeders[i].Parent {
		names = append(names, b.site.Plant.Feeders[i].Name)
		if b.site.Plant.Feeders[i].Name == f.Feeder.s {
			p.Feeder = i
		}
	}
	if f.Feeder.set && p.Feeder == 0 {
		wanted, hint := unknownWord(f.Feeder.s, names)
		b.add(f.Feeder.at, "the feeder "+f.Feeder.s, wanted+", the inverter's own feeder or one above it, and not the supply", hint)
	}
	return p
}

package scenarios

import (
	"fmt"
	"math"

	"kilter/physics"
)

func (b *siteBuilder) load(name string, feeder int, f *loadFile) physics.LoadParams {
	l := physics.LoadParams{Name: name, Feeder: feeder, Phases: b.phases(f.Phases), PowerW: f.Power.v, On: f.Switch.s == "on"}
	kinds := 0
	if t := f.Thermostat; t != nil {
		kinds++
		l.Kind = physics.ThermostatLoad
		l.TimeConstantS, l.HeatedC, l.CutInC, l.CutOutC, l.InitialC = t.TimeConstant.v, t.Heated.v, t.CutIn.v, t.CutOut.v, t.Initial.v
		if t.CutIn.v >= t.CutOut.v {
			b.add(t.CutIn.at, shownAs("rise", t.CutIn.v), "less than cut_out", "")
		}
		if t.CutOut.v >= t.Heated.v {
			b.add(t.CutOut.at, shownAs("rise", t.CutOut.v), "less than heated, which permanent heating would reach", "")
		}
	}
	if m := f.Motor; m != nil {
		kinds++
		l.Kind, l.InrushFactor, l.InrushS = physics.MotorLoad, m.Inrush.v, m.Decay.v
	}
	if u := f.Burst; u != nil {
		kinds++
		l.Kind, l.Duty, l.PeriodS = physics.BurstLoad, u.Duty.v, b.ticks(u.Period)
	}
	if r := f.Random; r != nil {
		kinds++
		l.Kind, l.MeanOnS, l.MeanGapS, l.HourShare = physics.RandomLoad, r.On.v, r.Gap.v, b.hours(r)
	}
	if f.Profile != nil {
		kinds++
		l.Kind, l.Profile = physics.ProfileLoad, b.profile(f.Profile, f.Net.s == "yes")
	}
	if kinds > 1 {
		b.add(f.At, "more than one of thermostat, motor, burst, random, profile", "at most one", "")
	}
	l.PowerFactor = f.Factor.v
	if f.Factor.set && math.Abs(f.Factor.v) < 0.05 {
		b.add(f.Factor.at, shownAs("number", f.Factor.v), "0.05 to 1, or -1 to -0.05 for one that leads", "")
	}
	if !f.Power.set && l.Kind != physics.ProfileLoad {
		b.add(f.At.under("power"), "no power", dimensions["power"].wanted(), "")
	}
	return l
}

// hours gives the shares of a random load's uses by the hour.
func (b *siteBuilder) hours(f *randomFile) (shares [24]float64) {
	if f.Hours == nil {
		return shares
	}
	if len(f.Hours) != len(shares) {
		b.add(f.At.under("hours"), fmt.Sprintf("%d hours", len(f.Hours)), "24, from 0 to 23", "")
		return shares
	}
	sum := 0.0
	for i, h := range f.Hours {
		shares[i] = h.v
		sum += h.v
	}
	if sum == 0 {
		b.add(f.At.under("hours"), "0 % in every hour", "more than 0 % in one of them", "")
	}
	return shares
}

// profile gives the points of a load's profile; only a net load may go under 0.
func (b *siteBuilder) profile(f *profileFile, net bool) []physics.ProfilePoint {
	var points []physics.ProfilePoint
	if f.File.set {
		kind := &powerTable
		if net {
			kind = &netTable
		}
		return b.measuredProfile(f.File, kind)
	}
	if len(f.Points) == 0 {
		b.add(f.At, "a profile without points", "at least one point", "")
	}
	for i, pt := range f.Points {
		ms := b.millis(pt.When)
		if i > 0 && ms <= points[i-1].AtMS {
			b.add(pt.When.at, shownAs("time", pt.When.v), "a later time than the point before", "")
		}
		if pt.Power.v < 0 && !net {
			b.add(pt.Power.at, shownAs("power", pt.Power.v), "0 W or more, since a load draws", "net: yes says that it may feed")
		}
		points = append(points, physics.ProfilePoint{AtMS: ms, PowerW: pt.Power.v})
	}
	return points
}

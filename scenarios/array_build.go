package scenarios

import "kilter/physics"

func (b *siteBuilder) array(name string, feeder int, f *arrayFile) physics.ArrayParams {
	a := physics.ArrayParams{
		Name: name, Feeder: feeder, Phases: b.phases(f.Phases), PeakW: f.Peak.v, RatingW: f.Rating.v,
		TiltDeg: f.Tilt.v, AzimuthDeg: f.Azimuth.v, LossFraction: f.Loss.v, TempCoeffPerK: f.Temperature.v,
		AmbientTempC: f.Ambient.v, NoctTempC: f.Noct.v, GroundAlbedo: f.Albedo.v, StartSwitchedW: f.WakesAt.v,
		LowLight: f.LowLight.v, RatedEfficiency: f.Efficiency.v, OnDC: f.OnDC.set, Response: b.answers(f.Answers, f.Rating.v),
	}
	p, at := &b.site.Plant, len(b.site.Plant.Arrays)
	if f.OnDC.set {
		b.onDC = append(b.onDC, reference{f.OnDC, func(i int) { p.Arrays[at].Inverter = i }})
		if f.Answers != nil {
			b.add(f.Answers.At, "answers of an array on the DC side", "answers of "+f.OnDC.s+", whose rating it shares", "")
		}
		if f.Limitation != nil {
			b.add(f.Limitation.At, "an export_limitation of an array on the DC side", "one of an array with an inverter of its own", "")
		}
	}
	if l := f.Limitation; l != nil {
		limit := &physics.ExportLimit{LimitW: l.Limit.v, PeriodS: b.ticks(l.Period), Gain: l.Gain.v}
		a.Limit = limit
		b.follows(l.Follows, func(i int) { limit.Meter = i })
	}
	return a
}

func (b *siteBuilder) charger(name string, feeder int, f *chargerFile) physics.ChargerParams {
	c := physics.ChargerParams{
		Name: name, Feeder: feeder, Phases: b.phases(f.Phases), MaxA: f.Max.v, MinA: f.Min.v,
		ResponseS: b.ticks(f.Response), RampAps: f.Ramp.v, CommandedA: f.Offer.or(f.Max.v),
	}
	c.TaperWh = f.Taper.v
	if s := f.Surplus; s != nil {
		surplus := &physics.SurplusParams{TargetW: s.Target.v, PeriodS: b.ticks(s.Period), Gain: s.Gain.v, HoldS: s.Hold.v}
		c.Surplus = surplus
		b.follows(s.Follows, func(i int) { surplus.Meter = i })
	}
	for _, q := range []quantity{f.Min, f.Offer} {
		if q.v > f.Max.v {
			b.add(q.at, shownAs("current", q.v), "at most max", "")
		}
	}
	return c
}

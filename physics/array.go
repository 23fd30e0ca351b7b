package physics

// Array is the runtime state of one PV array with its inverter.
//
// The DC power under the sky without its clouds is worked out at knots, every minute and at each
// point of a measured irradiance, and is linear between them; a cloud's factor
// multiplies it in each tick; the inverter converts and clips:
//
//	P_dc = (1 - LossFraction) x PVWattsLowLightDC(G, CellTemperature(G))
//	P_ac = min(P_dc, RatingW), or PVWattsAC where RatedEfficiency is given
//
// with G the irradiance on the plane [W/m2]. A cloud that passes does not change the cells'
// temperature, the share of diffuse light or the loss at low light.
type Array struct {
	PowerW float64 // AC power at the end of the tick [W], <= 0
	MeanW  float64 // mean over the tick [W], <= 0
	Energy Energy  // produced, >= 0; what is on the DC side of an inverter is in that inverter's PV

	DCW      float64 // DC power that there is, at the end of the tick [W], >= 0
	Reactive float64 // reactive power at the end of the tick [var], absorbing positive
	CutW     float64 // what an export limitation takes away at most [W], >= 0

	par    *ArrayParams
	feeder int
	phases Phases
	site   *SkyParams
	sun    sunTrack
	// The knots around now.
	knotMS, nextMS int64
	knotW, nextW   float64
	slope          float64 // [W/ms]
	sleepW         float64 // of par [W]
	ratingW        float64 // of par [W]
	night          bool    // nothing comes between these knots
	fine           bool    // more than clipping is asked for
	// measured counts the points of the measured irradiance up to the later knot.
	measured int

	answer                *supplyAnswer
	limitTicks, limitNext int64
}

const knotEveryMS = 60_000

func newArray(p *ArrayParams, s *Site) Array {
	a := Array{
		par: p, feeder: p.Feeder, phases: p.Phases, Energy: newEnergy(s.StepMS),
		site: &s.Sky, sun: newSunTrack(&s.Sky),
	}
	a.sleepW, a.ratingW = p.StartSwitchedW, p.RatingW
	a.fine = p.OnDC || p.RatedEfficiency > 0 || p.Limit != nil || p.Response != nil
	a.nextW = a.clearDC(0)
	a.advance(0)
	if p.Response != nil {
		a.answer = newSupplyAnswer(p.Response, p.RatingW, s)
	}
	if p.Limit != nil {
		a.limitTicks, _ = s.ticks(p.Limit.PeriodS)
	}
	return a
}

// measuredGHI returns the measured irradiance at an instant that never goes back.
func (a *Array) measuredGHI(ms int64) float64 {
	pts := a.site.Irradiance
	for a.measured < len(pts) && pts[a.measured].AtMS <= ms {
		a.measured++
	}
	if a.measured == 0 {
		return pts[0].GHI
	}
	p := pts[a.measured-1]
	if a.measured == len(pts) {
		return p.GHI
	}
	q := pts[a.measured]
	return p.GHI + float64((q.GHI-p.GHI)*float64(ms-p.AtMS))/float64(q.AtMS-p.AtMS)
}

// clearDC returns the DC power at an instant without the clouds of the story [W].
func (a *Array) clearDC(ms int64) float64 {
	sun, au := a.sun.at(float64(a.site.StartUnixS) + float64(ms)/1000)
	extra := solarConstant / float64(au*au)
	var r Irradiance
	if len(a.site.Irradiance) > 0 {
		r = SplitErbs(a.measuredGHI(ms), sun.ApparentDeg, extra)
	} else {
		r = a.site.clear(&sun, extra)
	}
	if r.GHI <= 0 {
		return 0
	}
	p := a.par
	plane := Plane{TiltDeg: p.TiltDeg, FacingDeg: p.AzimuthDeg, GroundShare: p.GroundAlbedo}
	g := plane.Global(r, a.site.Diffuse, sun.ApparentDeg, sun.AzimuthDeg, extra)
	cell := 25.0
	if p.NoctTempC != 0 {
		cell = CellTemperature(g, p.AmbientTempC, p.NoctTempC)
	}
	return (1 - p.LossFraction) * PVWattsLowLightDC(g, cell, p.PeakW, p.TempCoeffPerK, p.LowLight, true)
}

// advance moves to the knots around the instant ms.
func (a *Array) advance(ms int64) {
	for ms >= a.nextMS {
		a.knotMS, a.knotW = a.nextMS, a.nextW
		a.nextMS = (floorDiv(a.knotMS, knotEveryMS) + 1) * knotEveryMS
		if pts := a.site.Irradiance; a.measured < len(pts) {
			a.nextMS = min(a.nextMS, pts[a.measured].AtMS)
		}
		a.nextW = a.clearDC(a.nextMS)
		a.night = a.knotW == 0 && a.nextW == 0
		a.slope = (a.nextW - a.knotW) / float64(a.nextMS-a.knotMS)
	}
}

// dc returns the DC power at the instant ms [W], >= 0.
func (a *Array) dc(ms int64, factor float64) float64 {
	a.advance(ms)
	return a.dcNow(ms, factor)
}

// dcNow is dc between the knots around now.
func (a *Array) dcNow(ms int64, factor float64) float64 {
	w := a.knotW + float64(a.slope*float64(ms-a.knotMS))
	w *= factor
	if w <= a.sleepW {
		return 0
	}
	return w
}

// ac returns the AC power of a DC power [W], >= 0.
func (a *Array) ac(dcW float64) float64 {
	if e := a.par.RatedEfficiency; e > 0 {
		return PVWattsAC(dcW, a.par.RatingW/e, e)
	}
	return min(dcW, a.par.RatingW)
}

// step moves the array by one tick, which ends at endMS.
func (a *Array) step(tick, endMS int64, factor float64, meters []Meter, u *SupplyState) {
	if endMS >= a.nextMS {
		a.advance(endMS)
	}
	was := a.PowerW
	if a.night && was == 0 && !a.fine {
		a.DCW, a.MeanW = 0, 0
		return
	}
	a.DCW = a.dcNow(endMS, factor)
	if a.fine {
		a.stepFine(tick, was, meters, u)
		return
	}
	a.PowerW = -clamp(a.DCW, 0, a.ratingW)
	a.MeanW = (was + a.PowerW) / 2
	a.Energy.add(-a.MeanW)
}

// stepFine is step where more than clipping is asked for.
func (a *Array) stepFine(tick int64, was float64, meters []Meter, u *SupplyState) {
	if a.par.OnDC {
		return // its inverter takes it from here
	}
	out := a.ac(a.DCW)
	if a.par.Limit != nil || a.answer != nil {
		out = a.throttle(tick, out, meters, u)
	}
	a.PowerW = -out
	a.MeanW = (was + a.PowerW) / 2
	a.Energy.add(-a.MeanW)
}

// throttle holds an output [W] back as voltage, frequency, protection and export limitation ask.
func (a *Array) throttle(tick int64, out float64, meters []Meter, u *SupplyState) float64 {
	if l := a.par.Limit; l != nil {
		if tick == a.limitNext {
			a.limitNext += a.limitTicks
			excess := -meters[l.Meter].ReadingW - l.LimitW
			a.CutW = min(max(a.CutW+float64(l.Gain*excess), 0), a.par.RatingW)
		}
		out = max(0, min(out, a.par.RatingW-a.CutW))
	}
	if s := a.answer; s != nil {
		s.step(u)
		if !s.on {
			a.Reactive = 0
			s.freq.Step(u.Hz, 0)
			return 0
		}
		change := s.freq.Step(u.Hz, -out)
		out = max(0, min(out-change, a.par.RatingW*s.share, out+max(0, -change)))
		out = min(out, a.ac(a.DCW))
		a.Reactive = s.varPU * a.par.RatingW
	}
	return out
}

// dark keeps the array without supply for one tick.
func (a *Array) dark(endMS int64, factor float64, u *SupplyState) {
	a.DCW = a.dc(endMS, factor)
	if a.answer != nil {
		a.answer.step(u)
	}
	a.PowerW, a.MeanW, a.Reactive = 0, 0, 0
}

// output returns the AC power at the instant ms [W], >= 0, without any throttling.
func (a *Array) output(ms int64, factor float64) float64 { return a.ac(a.dc(ms, factor)) }

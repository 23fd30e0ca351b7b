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
	Energy Energy  // produced, >= 0

	par    ArrayParams
	feeder int
	phases Phases
	site   *SkyParams
	sun    sunTrack
	// The knots around now.
	knotMS, nextMS int64
	knotW, nextW   float64
	// measured counts the points of the measured irradiance up to the later knot.
	measured int
}

const knotEveryMS = 60_000

func newArray(p ArrayParams, s *Site) Array {
	a := Array{
		par: p, feeder: p.Feeder, phases: p.Phases, Energy: newEnergy(s.StepMS),
		site: &s.Sky, sun: newSunTrack(&s.Sky),
	}
	a.nextW = a.clearDC(0)
	a.advance(0)
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
	p := &a.par
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
	}
}

// output returns the AC power at the instant ms [W], >= 0.
func (a *Array) output(ms int64, factor float64) float64 {
	a.advance(ms)
	dc := a.knotW + float64((a.nextW-a.knotW)*float64(ms-a.knotMS))/float64(a.nextMS-a.knotMS)
	dc *= factor
	if dc <= a.par.StartSwitchedW {
		return 0
	}
	if e := a.par.RatedEfficiency; e > 0 {
		return PVWattsAC(dc, a.par.RatingW/e, e)
	}
	return min(dc, a.par.RatingW)
}

func (a *Array) step(endMS int64, factor float64) {
	was := a.PowerW
	a.PowerW = -a.output(endMS, factor)
	a.MeanW = (was + a.PowerW) / 2
	if a.MeanW != 0 {
		a.Energy.add(-a.MeanW)
	}
}

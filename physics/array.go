package physics

// Array is the runtime state of one PV array with its inverter.
//
// The DC power under the sky without its clouds is worked out at knots of one minute and is
// linear between them; a cloud's factor multiplies it in each tick, and the
// inverter clips at its rating:
//
//	P_dc = PeakW x (1 - LossFraction) x G/1000 x (1 + TempCoeffPerK (Tc - 25))
//	Tc   = AmbientTempC + G/800 x (NoctTempC - 20)
//
// with G the plane-of-array irradiance [W/m2]. Sources: A. P. Dobos, PVWatts Version 5
// Manual, NREL/TP-6A20-62641, 2014 (DC power); the nominal-operating-cell-temperature
// model, IEC 61215 (cell temperature; from memory). Part-load efficiency is in LossFraction
// and not modelled apart.
type Array struct {
	PowerW   float64 // AC power at the end of the tick [W], <= 0
	MeanW    float64 // mean over the tick [W], <= 0
	EnergyWh Sum     // produced [Wh], >= 0

	par            ArrayParams
	feeder         int
	phases         Phases
	hours          float64
	knotMS         int64 // time of the knot before now
	knotW, perMS   float64
	nextW          float64
	irradiance     []IrradiancePoint
	irradianceFrom int
	site           *SkyParams
}

const knotEveryMS = 60_000

func newArray(p ArrayParams, s *Site) Array {
	a := Array{
		par: p, feeder: p.Feeder, phases: p.Phases,
		hours: float64(s.StepMS) / 3.6e6, irradiance: s.Sky.Irradiance, site: &s.Sky,
	}
	a.nextW = a.clearDC(0)
	a.knotMS = -knotEveryMS
	a.advance(0)
	return a
}

// ghi returns the horizontal irradiance at an instant that never goes back.
func (a *Array) ghi(ms int64, elevationDeg float64) float64 {
	pts := a.irradiance
	if len(pts) == 0 {
		return ClearSkyGHI(elevationDeg)
	}
	for a.irradianceFrom+1 < len(pts) && pts[a.irradianceFrom+1].AtMS <= ms {
		a.irradianceFrom++
	}
	p := pts[a.irradianceFrom]
	if ms <= p.AtMS || a.irradianceFrom+1 == len(pts) {
		return p.GHI
	}
	q := pts[a.irradianceFrom+1]
	return p.GHI + float64((q.GHI-p.GHI)*float64(ms-p.AtMS))/float64(q.AtMS-p.AtMS)
}

// clearDC returns the DC power at an instant without the clouds of the story [W].
func (a *Array) clearDC(ms int64) float64 {
	elevation, azimuth := SunPosition(a.site.StartUnixS+ms/1000, a.site.LatitudeDeg, a.site.LongitudeDeg)
	g := PlaneOfArray(a.ghi(ms, elevation), elevation, azimuth, a.par.TiltDeg, a.par.AzimuthDeg, a.par.GroundAlbedo)
	cell := 25.0
	if a.par.NoctTempC != 0 {
		cell = a.par.AmbientTempC + float64(g*(a.par.NoctTempC-20))/800
	}
	factor := 1 + float64(a.par.TempCoeffPerK*(cell-25))
	return a.par.PeakW * (1 - a.par.LossFraction) * (g / 1000) * factor
}

// advance moves to the knots around the instant ms.
func (a *Array) advance(ms int64) {
	for ms >= a.knotMS+knotEveryMS {
		a.knotMS += knotEveryMS
		a.knotW = a.nextW
		a.nextW = a.clearDC(a.knotMS + knotEveryMS)
		a.perMS = (a.nextW - a.knotW) / knotEveryMS
	}
}

// output returns the AC power at the instant ms [W], >= 0.
func (a *Array) output(ms int64, factor float64) float64 {
	a.advance(ms)
	dc := (a.knotW + float64(a.perMS*float64(ms-a.knotMS))) * factor
	if dc <= a.par.StartSwitchedW {
		return 0
	}
	return min(dc, a.par.RatingW)
}

func (a *Array) step(endMS int64, factor float64) {
	was := a.PowerW
	a.PowerW = -a.output(endMS, factor)
	a.MeanW = (was + a.PowerW) / 2
	if a.MeanW != 0 {
		a.EnergyWh.add(-a.MeanW * a.hours)
	}
}

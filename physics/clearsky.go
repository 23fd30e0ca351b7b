package physics

// Irradiance is the sun's power per area on the ground [W/m2].
type Irradiance struct {
	GHI float64 // global, on the horizontal
	DNI float64 // beam, on a plane that faces the sun
	DHI float64 // diffuse, on the horizontal
}

// ClearSkyModel says how the irradiance of a cloudless sky is worked out.
type ClearSkyModel uint8

// The models of the clear sky, from the simplest to the one with most to know.
const (
	Haurwitz        ClearSkyModel = iota // by elevation alone; beam and diffuse by Erbs
	IneichenPerez                        // by altitude and Linke turbidity
	SimplifiedSolis                      // by pressure, aerosol and water
)

// solarConstant is the extraterrestrial irradiance at 1 AU [W/m2]
// (G. Kopp, J. L. Lean, Geophysical Research Letters 38, 2011).
const solarConstant = 1361

// RelativeAirmass returns how much more air than overhead the sun's rays pass [1], by the
// apparent zenith angle [deg], 0 to 90; at and under the horizon it is that of the
// horizon, about 38.
//
// Source: F. Kasten, A. T. Young, Revised optical air mass tables and approximation formula,
// Applied Optics 28, 1989, equation 3.
func RelativeAirmass(zenithDeg float64) float64 {
	z := min(max(zenithDeg, 0), 90)
	return 1 / (cosDeg(z) + float64(0.50572*pow(6.07995+(90-z), -1.6364)))
}

// StandardPressure returns the air pressure at an altitude above sea level [m], in Pa.
//
// Source: U.S. Standard Atmosphere, 1976, troposphere: valid to 11000 m. Weather is not modelled.
func StandardPressure(altitudeM float64) float64 {
	return 101325 * pow(max(1-float64(2.25577e-5*altitudeM), 0), 5.25588)
}

// ClearSkyGHI returns the global horizontal irradiance of a clear sky [W/m2] at the
// sun's elevation [deg]; 0 with the sun at or under the horizon.
//
//	GHI = 1098 cos z exp(-0.059 / cos z)
//
// Source: B. Haurwitz, Insolation in relation to cloudiness and cloud density, J. Meteorology 2,
// 1945, with the constants of check value PV-20. Turbidity and altitude are not modelled.
func ClearSkyGHI(elevationDeg float64) float64 {
	c := sinDeg(elevationDeg)
	if c <= 0 {
		return 0
	}
	return 1098 * c * exp(-0.059/c)
}

// ClearSkyIneichen returns the irradiance of a clear sky by the model of Ineichen and Perez.
//
// zenithDeg is the apparent zenith angle [deg]; airmass is absolute, that is relative to
// one standard atmosphere overhead [1]; linkeTurbidity is how many clean dry atmospheres
// would dim the sun as much [1], about 2 (clear and cold) to 7 (polluted); altitudeM
// [m]; extra is the extraterrestrial irradiance [W/m2]. All is 0 with the sun at or
// under the horizon.
//
// Source: P. Ineichen, R. Perez, A new airmass independent formulation for the Linke turbidity
// coefficient, Solar Energy 73, 2002, with the beam's empirical correction of R. Perez et
// al., A new operational model for satellite-derived irradiances, Solar Energy 73, 2002;
// constants as in pvlib-python's clearsky.py, the enhancement factor exp(0.01 airmass^1.8)
// left out as there.
func ClearSkyIneichen(zenithDeg, airmass, linkeTurbidity, altitudeM, extra float64) Irradiance {
	c := cosDeg(zenithDeg)
	if c <= 0 {
		return Irradiance{}
	}
	fh1, fh2 := exp(-altitudeM/8000), exp(-altitudeM/1250)
	cg1 := float64(5.09e-5*altitudeM) + 0.868
	cg2 := float64(3.92e-5*altitudeM) + 0.0387
	var r Irradiance
	r.GHI = float64(cg1 * extra * c * exp(-cg2*airmass*(fh1+float64(fh2*(linkeTurbidity-1)))))
	beam := extra * (0.664 + 0.163/fh1) * exp(-0.09*airmass*(linkeTurbidity-1))
	most := r.GHI * max(0, 1-(0.1-float64(0.2*exp(-linkeTurbidity)))/(0.1+0.882/fh1)) / c
	r.DNI = min(beam, most)
	r.DHI = r.GHI - float64(r.DNI*c)
	return r
}

// ClearSkySolis returns the irradiance of a clear sky by the simplified Solis model.
//
// elevationDeg is the apparent elevation [deg]; aerosolDepth the aerosol optical depth
// at 700 nm [1], made for 0 to 0.45; waterCM the precipitable water [cm], 0.2 to 10 (less counts
// as 0.2); pressurePa 41000 to 101325 Pa; extra the extraterrestrial irradiance [W/m2].
// All is 0 with the sun at or under the horizon. Its three parts are fitted apart: the global
// irradiance differs from beam and diffuse together by some W/m2.
//
// Source: P. Ineichen, A broadband simplified version of the Solis clear sky model, Solar Energy
// 82, 2008; constants as in pvlib-python's clearsky.py.
func ClearSkySolis(elevationDeg, aerosolDepth, waterCM, pressurePa, extra float64) Irradiance {
	s := sinDeg(elevationDeg)
	if s <= 0 {
		return Irradiance{}
	}
	a, w := aerosolDepth, max(waterCM, 0.2)
	lw, lp := log(w), log(pressurePa/101325)
	enhanced := extra * (polynomial(a, 1.08*pow(w, 0.0051), 0.97*pow(w, 0.032), 0.12*pow(w, 0.56)) + float64(0.071*lp))

	tauBeam := float64(polynomial(lw, 1.82, 0.056, 0.0071)*a) + polynomial(lw, 0.33, 0.045, 0.0096) +
		float64(polynomial(w, 0.13, 0.0089)*lp)
	b := float64(polynomial(a, -0.0172, 0.0148, 0.00925)*lw) + polynomial(a, 0.4557, 0.5057, -0.7565)

	tauGlobal := float64(polynomial(lw, 1.24, 0.047, 0.0061)*a) + polynomial(lw, 0.27, 0.043, 0.0090) +
		float64(polynomial(w, 0.1, 0.0079)*lp)
	g := float64(-0.0147*lw) + polynomial(a, 0.3798, 0.2846, -0.3079)

	var tauDiffuse float64
	if a < 0.05 {
		tauDiffuse = polynomial(a, polynomial(w, 3.12, 0.0042), polynomial(w, -8.86, 0.092), polynomial(w, 74.8, -0.23),
			polynomial(w, 79.4, -3.11), polynomial(w, -13800, 86)) - float64(0.83*pow(1+a, -17.2)*lp)
	} else {
		tauDiffuse = polynomial(a, polynomial(w, 2.94, 0.0057), polynomial(w, -5.71, 0.0554), polynomial(w, 15.5, -0.134),
			polynomial(w, -20.7, 0.27), polynomial(w, 11.6, -0.21)) - float64(0.71*pow(1+a, -15.0)*lp)
	}
	d := polynomial(a, 0.116, 0.63, -0.337) + lp/(18+float64(152*a))

	return Irradiance{
		GHI: enhanced * exp(-tauGlobal/pow(s, g)) * s,
		DNI: enhanced * exp(-tauBeam/pow(s, b)),
		DHI: enhanced * exp(-tauDiffuse/pow(s, d)),
	}
}

// Defaults of the atmosphere: what pvlib-python takes where nothing is known, and a turbidity of
// a rural summer at middle latitudes (common practice, no source).
const (
	defaultLinke   = 3.0
	defaultAerosol = 0.1
	defaultWaterCM = 1.0
)

// clear returns the irradiance of the site's sky without clouds, by the sun over it and the
// extraterrestrial irradiance [W/m2].
func (s *SkyParams) clear(sun *Topocentric, extra float64) Irradiance {
	if sun.ApparentDeg <= 0 {
		return Irradiance{}
	}
	switch s.ClearSky {
	case IneichenPerez:
		airmass := RelativeAirmass(sun.ZenithDeg) * StandardPressure(s.AltitudeM) / 101325
		return ClearSkyIneichen(sun.ZenithDeg, airmass, orDefault(s.LinkeTurbidity, defaultLinke), s.AltitudeM, extra)
	case SimplifiedSolis:
		return ClearSkySolis(sun.ApparentDeg, orDefault(s.AerosolDepth, defaultAerosol),
			orDefault(s.WaterCM, defaultWaterCM), StandardPressure(s.AltitudeM), extra)
	}
	return SplitErbs(ClearSkyGHI(sun.ApparentDeg), sun.ApparentDeg, extra)
}

// orDefault returns v, or what stands for it where it is 0.
func orDefault(v, otherwise float64) float64 {
	if v == 0 {
		return otherwise
	}
	return v
}

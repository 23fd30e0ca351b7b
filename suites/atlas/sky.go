package atlas

import "kilter/physics"

// The worked example of the solar position algorithm: 2003-10-17 12:30:30, UTC-7, deltaT 67 s.
const (
	sunExampleS  = 1066419030.0
	sunMidnightS = 1066374000.0 // the start of that local day
	sunDeltaT    = 67.0
	sunDayS      = 86400.0
)

var sunExamplePlace = physics.Place{LatitudeDeg: 39.742476, LongitudeDeg: -105.1786, AltitudeM: 1830.14,
	PressureMbar: 820, TemperatureC: 11, RefractionDeg: 0.5667}

// sunDay is the sun's course over one day.
func sunDay() (Picture, error) {
	sun := func(hour float64) physics.Topocentric {
		_, t := physics.SPA(sunMidnightS+3600*hour, sunDeltaT, sunExamplePlace)
		return t
	}
	plane := func(t physics.Topocentric) float64 { return physics.IncidenceDeg(t.ApparentDeg, t.AzimuthDeg, 30, 170) }
	now := sun((sunExampleS - sunMidnightS) / 3600)
	noon := (sunExampleS - sunMidnightS) / 3600
	g, _ := physics.SPA(sunExampleS, sunDeltaT, sunExamplePlace)
	// The report's program folds times into the UT day of its input: the sunset that it prints for the
	// 17th is the one that ends the local 16th.
	today, _ := physics.SunTimesOf(1066348800, sunDeltaT, sunExamplePlace)
	before, _ := physics.SunTimesOf(1066348800-sunDayS, sunDeltaT, sunExamplePlace)
	riseS, setS := 6*3600+12*60+43.0, 17*3600+20*60+19.0
	const limb = -0.8333 // the upper limb on the horizon
	all := []Check{
		{ID: "PV-05", What: "elevation with refraction", Value: 39.888378, Model: now.ApparentDeg, Tolerance: 1e-6, Unit: "°", X: noon, Y: 39.888378},
		{ID: "PV-04", What: "zenith angle", Value: 50.111622, Model: now.ZenithDeg, Tolerance: 1e-6, Unit: "°", X: noon, Y: 90 - 50.111622, Silent: true},
		{ID: "PV-05", What: "elevation without refraction", Value: 39.872046, Model: now.ElevationDeg, Tolerance: 1e-6, Unit: "°", X: nan},
		{ID: "PV-06", What: "angle of incidence on a plane of 30°, facing 170°", Value: 25.187, Model: plane(now), Tolerance: 1e-6, Unit: "°", X: noon, Y: 25.187},
		{ID: "PV-04", What: "azimuth", Value: 194.340241, Model: now.AzimuthDeg, Tolerance: 1e-6, Unit: "°", Panel: 1, X: noon, Y: 194.340241},
		{ID: "PV-07", What: "sunrise 06:12:43, seconds of the day", Value: riseS, Model: today.RiseS - sunMidnightS, Tolerance: 1, Unit: "s", X: riseS / 3600, Y: limb},
		{ID: "PV-07", What: "sunset of the 16th 17:20:19, seconds of the day", Value: setS, Model: before.SetS - sunMidnightS + sunDayS, Tolerance: 1, Unit: "s", X: setS / 3600, Y: limb},
		{ID: "PV-03", What: "right ascension", Value: 202.227408, Model: g.RightAscensionDeg, Tolerance: 1e-5, Unit: "°", X: nan},
		{ID: "PV-03", What: "declination", Value: -9.31434, Model: g.DeclinationDeg, Tolerance: 1e-5, Unit: "°", X: nan},
		{ID: "PV-08", What: "zenith angle, recomputed", Value: 50.111622024, Model: now.ZenithDeg, Tolerance: 1e-8, Unit: "°", Mark: Recomputed, X: nan},
		{ID: "PV-08", What: "azimuth, recomputed", Value: 194.340240510, Model: now.AzimuthDeg, Tolerance: 1e-8, Unit: "°", Mark: Recomputed, X: nan},
	}
	azimuth := line("azimuth", 2, 0, 24, 480, func(h float64) float64 { return sun(h).AzimuthDeg })
	for i := range azimuth.Y[1:] {
		if azimuth.Y[i+1] < azimuth.Y[i] {
			azimuth.Y[i+1] = nan // past north it begins again at 0
		}
	}
	hours := func(label string) Axis { return Axis{Label: label, Min: 0, Max: 24} }
	return Picture{
		ID: "sun-day", Title: "The sun over one day", Checks: all,
		Panels: []Panel{
			{X: hours("local time (UTC−7), h"), Y: Axis{Label: "elevation; incidence, °", Min: -65, Max: 125}, Curves: []Curve{
				line("elevation with refraction", 0, 0, 24, 480, func(h float64) float64 { return sun(h).ApparentDeg }),
				line("incidence on a plane of 30°", 1, 0, 24, 480, func(h float64) float64 {
					if t := sun(h); t.ElevationDeg > 0 {
						return plane(t)
					}
					return nan
				}).dashed()}},
			{X: hours("local time (UTC−7), h"), Y: Axis{Label: "azimuth from north, °", Min: 0, Max: 360}, Curves: []Curve{
				azimuth}},
		},
		Formula: "solar position algorithm: heliocentric series, nutation, aberration, parallax, refraction; 17 October 2003, 39.742476° N, 105.1786° W",
		Source:  "I. Reda, A. Andreas, NREL/TP-560-34302, revised 2008, appendix A.5; PV-03 and PV-05 from pvlib-python tests/test_spa.py; PV-08 recomputed there.",
		Note:    "The report’s program prints for the 17th the sunset that ends the local 16th, so that its point lies 90 s off the curve of the 17th; the model is asked for the same one.",
	}, nil
}

// clearSky is the irradiance of a cloudless sky over the sun's elevation.
func clearSky() (Picture, error) {
	part := func(r physics.Irradiance, which float64) float64 {
		return [...]float64{r.GHI, r.DNI, r.DHI}[int(which)]
	}
	ineichen := func(elevation float64) physics.Irradiance {
		return physics.ClearSkyIneichen(90-elevation, physics.RelativeAirmass(90-elevation), 3, 0, 1364)
	}
	solis := func(elevation float64) physics.Irradiance {
		return physics.ClearSkySolis(elevation, 0.1, 1, 101325, 1364)
	}
	all := haurwitzRows.against(0, func(at []float64) float64 { return physics.ClearSkyGHI(at[0]) }).named("Haurwitz at elevation °")
	all[0].X = nan // far below the horizon
	all = append(all, haurwitzMoreRows.against(0, func(at []float64) float64 { return physics.ClearSkyGHI(at[0]) }).named("Haurwitz at elevation °")...)
	for _, x := range []struct {
		name  string
		group Group
		model func(at []float64) physics.Irradiance
	}{
		{"Ineichen, air mass 1", ineichenRows, func(at []float64) physics.Irradiance { return physics.ClearSkyIneichen(90-at[0], 1, 3, 0, at[1]) }},
		{"Solis", solisRows, func(at []float64) physics.Irradiance { return physics.ClearSkySolis(at[0], 0.1, 1, 101325, at[1]) }},
	} {
		for i, c := range x.group.against(0, func(at []float64) float64 { return part(x.model(at), at[2]) }) {
			at := x.group.Rows[i].At
			c.What = x.name + ": " + [...]string{"global", "beam", "diffuse"}[int(at[2])] + ", " + figure(at[1], 4) + " W/m² outside"
			if at[2] > 0 {
				c.Panel = 1
			}
			if at[1] == 1370 {
				c.X = nan // the curve is that of 1364 W/m2
			}
			all = append(all, c)
		}
	}
	elevation := Axis{Label: "elevation of the sun, °", Min: -2, Max: 92}
	beam := func(f func(float64) physics.Irradiance, which float64) func(float64) float64 {
		return func(e float64) float64 { return part(f(e), which) }
	}
	return Picture{
		ID: "clear-sky", Title: "Irradiance of a clear sky", Checks: all,
		Panels: []Panel{
			{X: elevation, Y: Axis{Label: "global horizontal, W/m²"}, Curves: []Curve{
				line("Haurwitz", 0, -2, 90, 368, physics.ClearSkyGHI), line("Ineichen and Perez", 1, -2, 90, 368, beam(ineichen, 0)),
				line("simplified Solis", 2, -2, 90, 368, beam(solis, 0)).dashed()}},
			{X: elevation, Y: Axis{Label: "beam; diffuse, W/m²"}, Curves: []Curve{
				line("", 1, -2, 90, 368, beam(ineichen, 1)), line("", 2, -2, 90, 368, beam(solis, 1)).dashed(),
				line("", 1, -2, 90, 368, beam(ineichen, 2)), line("", 2, -2, 90, 368, beam(solis, 2)).dashed()}},
		},
		Formula: "Haurwitz: GHI = 1098·cos z·exp(−0.059/cos z);  Ineichen: Linke turbidity 3;  Solis: aerosol depth 0.1, 1 cm of water",
		Source:  "B. Haurwitz, 1945; P. Ineichen, R. Perez, Solar Energy 73, 2002; P. Ineichen, Solar Energy 82, 2008; PV-20 and PV-22 to PV-24 from pvlib-python tests/test_clearsky.py, PV-21 recomputed.",
		Note:    "PV-22 is for an air mass of exactly 1, and the curve for that of the elevation (1.015 at 80°): the point lies a little above the curve.",
	}, nil
}

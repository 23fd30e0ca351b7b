package physics

// sunDeltaTS is terrestrial time minus universal time of the 2020s [s] (69 s: the international
// earth rotation service's bulletins, from memory). Five seconds more or less move the
// sun by 0.0001 deg.
const sunDeltaTS = 69

// SunPosition returns where the sun stands: its topocentric elevation above the horizon without
// refraction, and its azimuth clockwise from north, both in degrees.
//
// unixS is the time [s since 1970-01-01 UTC]; latitude is north positive and longitude east
// positive [deg]. It is SPA at sea level.
func SunPosition(unixS int64, latitudeDeg, longitudeDeg float64) (elevationDeg, azimuthDeg float64) {
	p := Place{LatitudeDeg: latitudeDeg, LongitudeDeg: longitudeDeg}
	_, t := SPA(float64(unixS), sunDeltaTS, p)
	return t.ElevationDeg, t.AzimuthDeg
}

// sunTrack follows the sun over one place. As seen from the earth's centre the sun moves by a
// degree a day and so evenly that a straight line over an hour errs by less than 1e-5 deg;
// so the long series are summed once an hour, and the rest at every call.
type sunTrack struct {
	place    Place
	hour     int64 // whole hours since 1970-01-01 UTC of the earlier end; valid once known
	known    bool
	from, to Geocentric
}

func newSunTrack(s *SkyParams) sunTrack {
	return sunTrack{place: Place{
		LatitudeDeg: s.LatitudeDeg, LongitudeDeg: s.LongitudeDeg, AltitudeM: s.AltitudeM,
		// Refraction matters near the horizon only; a mean temperature is enough.
		PressureMbar: StandardPressure(s.AltitudeM) / 100, TemperatureC: 12, RefractionDeg: 0.5667,
	}}
}

// at returns the sun at a time [s since 1970-01-01 UTC], and its distance [AU]. The answer depends
// on the time alone and not on what was asked before.
func (k *sunTrack) at(unixS float64) (Topocentric, float64) {
	const hourS = 3600
	hour := floorDiv(int64(unixS), hourS)
	if !k.known || hour != k.hour {
		if k.known && hour == k.hour+1 {
			k.from = k.to
		} else {
			k.from = GeocentricSun(float64(hour*hourS), sunDeltaTS)
		}
		k.to = GeocentricSun(float64((hour+1)*hourS), sunDeltaTS)
		k.hour, k.known = hour, true
	}
	f := (unixS - float64(hour*hourS)) / hourS
	between := func(a, b float64) float64 { return a + float64(f*(b-a)) }
	g := Geocentric{
		RadiusAU:             between(k.from.RadiusAU, k.to.RadiusAU),
		NutationLongitudeDeg: between(k.from.NutationLongitudeDeg, k.to.NutationLongitudeDeg),
		ObliquityDeg:         between(k.from.ObliquityDeg, k.to.ObliquityDeg),
		RightAscensionDeg:    k.from.RightAscensionDeg + float64(f*halfTurn(k.to.RightAscensionDeg-k.from.RightAscensionDeg)),
		DeclinationDeg:       between(k.from.DeclinationDeg, k.to.DeclinationDeg),
	}
	return k.place.Sees(&g, unixS), g.RadiusAU
}

// floorDiv returns a/b rounded down, b > 0.
func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}

package physics

import "math"

// Place is a point on the ground and the air over it.
type Place struct {
	LatitudeDeg   float64 // north positive [deg]
	LongitudeDeg  float64 // east positive [deg]
	AltitudeM     float64 // above sea level [m]
	PressureMbar  float64 // mean air pressure of the year [mbar]; it bends the light
	TemperatureC  float64 // mean air temperature of the year [degC]
	RefractionDeg float64 // refraction at sunrise and sunset [deg], typically 0.5667
}

// Topocentric is where the sun stands as seen from a place.
type Topocentric struct {
	HourAngleDeg float64 // geocentric local hour angle, westward from south [deg], 0 to 360
	ElevationDeg float64 // without refraction [deg]
	ApparentDeg  float64 // elevation with refraction [deg]
	ZenithDeg    float64 // 90 less the apparent elevation [deg]
	AzimuthDeg   float64 // clockwise from north [deg], 0 to 360
}

// SPA returns where the sun stands at a time [s since 1970-01-01 UT]; deltaTS is
// terrestrial time minus universal time [s]. UTC stands for universal time, which
// it keeps within 0.9 s: less than 0.004 deg.
//
// Source: I. Reda, A. Andreas, Solar Position Algorithm for Solar Radiation Applications,
// NREL/TP-560-34302, revised 2008; its stated uncertainty is 0.0003 deg. Refraction is
// that of a mean atmosphere; hills, dips of the horizon and weather are not modelled.
func SPA(unixS, deltaTS float64, p Place) (Geocentric, Topocentric) {
	g := GeocentricSun(unixS, deltaTS)
	return g, p.Sees(&g, unixS)
}

// Sees returns where a geocentric sun stands over the place at a time [s since
// 1970-01-01 UT] (sections 3.11 to 3.14).
func (p *Place) Sees(g *Geocentric, unixS float64) Topocentric {
	const flattening = 0.99664719 // polar over equatorial radius of the earth
	const equatorM = 6378140
	var t Topocentric
	t.HourAngleDeg = wholeTurn(g.sidereal(unixS) + p.LongitudeDeg - g.RightAscensionDeg)

	// Parallax: the place is not the earth's centre.
	sinLat, cosLat := sincosDeg(p.LatitudeDeg)
	// The reduced latitude u = atan(flattening x tan(latitude)), by its sine and cosine.
	norm := math.Sqrt(float64(cosLat*cosLat) + float64(float64(flattening*sinLat)*float64(flattening*sinLat)))
	x := cosLat/norm + float64(p.AltitudeM/equatorM*cosLat)
	y := float64(flattening*float64(flattening*sinLat)/norm) + float64(p.AltitudeM/equatorM*sinLat)
	sinPar := sinDeg(8.794 / (3600 * g.RadiusAU))
	sinDec, cosDec := sincosDeg(g.DeclinationDeg)
	sinHour, cosHour := sincosDeg(t.HourAngleDeg)
	along := cosDec - float64(float64(x*sinPar)*cosHour)
	shift := atan2Deg(-float64(float64(x*sinPar)*sinHour), along) // of the right ascension
	dec := atan2Deg(float64((sinDec-float64(y*sinPar))*cosDeg(shift)), along)

	sinDec, cosDec = sincosDeg(dec)
	sinHour, cosHour = sincosDeg(t.HourAngleDeg - shift)
	t.ElevationDeg = asinDeg(float64(sinLat*sinDec) + float64(float64(cosLat*cosDec)*cosHour))
	t.ApparentDeg = t.ElevationDeg + p.refraction(t.ElevationDeg)
	t.ZenithDeg = 90 - t.ApparentDeg
	// The report's azimuth is westward from south; multiplied by cos(declination) > 0.
	south := atan2Deg(float64(sinHour*cosDec),
		float64(float64(cosHour*sinLat)*cosDec)-float64(sinDec*cosLat))
	t.AzimuthDeg = wholeTurn(south + 180)
	return t
}

// refraction returns by how much air lifts the sun at a true elevation [deg] (section 3.13.2);
// nothing once its whole disc is under the horizon.
func (p *Place) refraction(elevationDeg float64) float64 {
	const discDeg = 0.26667
	if elevationDeg < -(discDeg + p.RefractionDeg) {
		return 0
	}
	sin, cos := sincosDeg(elevationDeg + 10.3/(elevationDeg+5.11))
	return p.PressureMbar / 1010 * 283 / (273 + p.TemperatureC) * 1.02 * cos / (60 * sin)
}

// CosIncidence returns the cosine of the angle between the sun's rays and the normal of a
// plane [1], negative when the sun is behind it. elevationDeg and azimuthDeg are the
// sun's; tiltDeg is from the horizontal and facingDeg clockwise from north, as all
// azimuths here.
//
// Source: NREL/TP-560-34302, section 3.15 (there, a plane's azimuth is westward from south).
func CosIncidence(elevationDeg, azimuthDeg, tiltDeg, facingDeg float64) float64 {
	sinEl, cosEl := sincosDeg(elevationDeg)
	sinTilt, cosTilt := sincosDeg(tiltDeg)
	return float64(sinEl*cosTilt) + float64(float64(cosEl*sinTilt)*cosDeg(azimuthDeg-facingDeg))
}

// acosDeg returns the arc cosine of x in [-1, 1] [deg].
func acosDeg(x float64) float64 {
	return atan2Deg(math.Sqrt(max(0, float64((1-x)*(1+x)))), x)
}

// IncidenceDeg returns the angle between the sun's rays and the normal of a plane [deg]; see
// CosIncidence.
func IncidenceDeg(elevationDeg, azimuthDeg, tiltDeg, facingDeg float64) float64 {
	return acosDeg(CosIncidence(elevationDeg, azimuthDeg, tiltDeg, facingDeg))
}

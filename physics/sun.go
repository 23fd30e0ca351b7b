package physics

import "math"

// SunPosition returns where the sun stands: its geometric elevation above the horizon
// and its azimuth clockwise from north, both in degrees.
//
// unixS is the time [s since 1970-01-01 UTC]; latitude is north positive and longitude east
// positive [deg]. Valid for 1950 to 2050; within 0.01 deg of the almanac by its source,
// refraction not included.
//
// Source: The Astronomical Almanac's low-precision formulae for the sun, as given by
// J. J. Michalsky, The Astronomical Almanac's algorithm for approximate solar position,
// Solar Energy 40(3), 1988 (formulas from memory; tested against check value PV-04).
func SunPosition(unixS int64, latitudeDeg, longitudeDeg float64) (elevationDeg, azimuthDeg float64) {
	const unixOfJ2000 = 946728000 // 2000-01-01 12:00 UTC
	days := float64(unixS-unixOfJ2000) / 86400
	meanLongitude := math.Mod(280.460+float64(0.9856474*days), 360)
	meanAnomaly := math.Mod(357.528+float64(0.9856003*days), 360)
	ecliptic := meanLongitude + float64(1.915*sinDeg(meanAnomaly)) + float64(0.020*sinDeg(2*meanAnomaly))
	obliquity := 23.439 - float64(0.0000004*days)
	ascension := atan2Deg(cosDeg(obliquity)*sinDeg(ecliptic), cosDeg(ecliptic))
	declination := asinDeg(sinDeg(obliquity) * sinDeg(ecliptic))
	// Greenwich mean sidereal time in hours; local hour angle in degrees.
	siderealH := math.Mod(6.697375+float64(0.0657098242*days)+math.Mod(float64(unixS%86400)/3600, 24), 24)
	hourAngle := math.Mod(float64(siderealH*15)+longitudeDeg-ascension, 360)
	sinLat, cosLat := sinDeg(latitudeDeg), cosDeg(latitudeDeg)
	sinDec, cosDec := sinDeg(declination), cosDeg(declination)
	cosHour, sinHour := cosDeg(hourAngle), sinDeg(hourAngle)
	elevationDeg = asinDeg(float64(sinLat*sinDec) + float64(cosLat*float64(cosDec*cosHour)))
	east := -float64(cosDec * sinHour)
	north := float64(cosLat*sinDec) - float64(sinLat*float64(cosDec*cosHour))
	azimuthDeg = atan2Deg(east, north)
	if azimuthDeg < 0 {
		azimuthDeg += 360
	}
	return elevationDeg, azimuthDeg
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

// DiffuseFraction returns the diffuse share of the global horizontal irradiance [1], by
// the clearness index kt = GHI / (extraterrestrial horizontal irradiance) [1].
//
// Source: D. G. Erbs, S. A. Klein, J. A. Duffie, Estimation of the diffuse radiation fraction,
// Solar Energy 28, 1982 (coefficients from memory).
func DiffuseFraction(kt float64) float64 {
	switch {
	case kt <= 0.22:
		return 1 - float64(0.09*max(kt, 0))
	case kt > 0.80:
		return 0.165
	}
	// Horner's scheme, each product fenced.
	f := 12.336
	for _, c := range [...]float64{-16.638, 4.388, -0.1604, 0.9511} {
		f = float64(f*kt) + c
	}
	return f
}

// PlaneOfArray returns the irradiance on a tilted plane [W/m2], from the global
// horizontal irradiance ghi [W/m2], with an isotropic diffuse sky and an isotropic ground.
// Angles in degrees; albedo is the ground's reflected share [1].
//
// Source: B. Y. H. Liu, R. C. Jordan, The long-term average performance of flat-plate
// solar-energy collectors, Solar Energy 7, 1963. Circumsolar and horizon brightening,
// shading and losses at oblique incidence are not modelled.
func PlaneOfArray(ghi, elevationDeg, azimuthDeg, tiltDeg, facingDeg, albedo float64) float64 {
	if ghi <= 0 {
		return 0
	}
	const solarConstant = 1361 // W/m2 (G. Kopp, J. L. Lean, Geophys. Res. Lett. 38, 2011)
	sinEl := sinDeg(elevationDeg)
	diffuse := ghi
	// Below five degrees the beam's share is not known from a horizontal sensor: all is diffuse.
	if elevationDeg > 5 {
		diffuse = ghi * DiffuseFraction(ghi/float64(solarConstant*sinEl))
	}
	cosTilt := cosDeg(tiltDeg)
	cosIncidence := float64(sinEl*cosTilt) +
		float64(float64(cosDeg(elevationDeg)*sinDeg(tiltDeg))*cosDeg(azimuthDeg-facingDeg))
	beam := 0.0
	if elevationDeg > 5 && cosIncidence > 0 {
		beam = (ghi - diffuse) * cosIncidence / sinEl
	}
	return beam + float64(diffuse*(1+cosTilt))/2 + float64(float64(ghi*albedo)*(1-cosTilt))/2
}

package physics

import "math"

// Geocentric is where the sun stands as seen from the earth's centre, and what the
// place on the ground needs besides. It changes by about a degree a day.
type Geocentric struct {
	HelioLongitudeDeg float64 // L, the earth's heliocentric longitude [deg], 0 to 360
	HelioLatitudeDeg  float64 // B, the earth's heliocentric latitude [deg]
	RadiusAU          float64 // R, distance of earth and sun [AU]

	NutationLongitudeDeg float64 // nutation in longitude [deg]
	NutationObliquityDeg float64 // nutation in obliquity [deg]
	ObliquityDeg         float64 // true obliquity of the ecliptic [deg]
	SunLongitudeDeg      float64 // apparent longitude of the sun, aberration included [deg]
	RightAscensionDeg    float64 // [deg], 0 to 360
	DeclinationDeg       float64 // [deg]
	EquationOfTimeMin    float64 // apparent minus mean solar time [min], -20 to 20
}

// JulianDay returns the Julian day of a time [s since 1970-01-01 UT].
func JulianDay(unixS float64) float64 { return unixS/86400 + 2440587.5 }

// GeocentricSun returns the sun's geocentric position at a time [s since 1970-01-01 UT];
// deltaTS is terrestrial time minus universal time [s].
//
// Source: NREL/TP-560-34302, sections 3.2 to 3.10 and appendix A.1. The report's range is
// the years -2000 to 6000; the sines of this package bound it to the years 1400 to 2600.
func GeocentricSun(unixS, deltaTS float64) Geocentric {
	const j2000 = 2451545
	century := (JulianDay(unixS+deltaTS) - j2000) / 36525
	millennium := century / 10
	var g Geocentric
	g.HelioLongitudeDeg = wholeTurn(periodicSum(earthLongitude[:], millennium) * (180 / math.Pi))
	g.HelioLatitudeDeg = periodicSum(earthLatitude[:], millennium) * (180 / math.Pi)
	g.RadiusAU = periodicSum(earthRadius[:], millennium)

	g.NutationLongitudeDeg, g.NutationObliquityDeg = nutation(century)
	g.ObliquityDeg = polynomial(millennium/10, 84381.448, -4680.93, -1.55, 1999.25, -51.38, -249.67,
		-39.05, 7.12, 27.87, 5.79, 2.45)/3600 + g.NutationObliquityDeg
	aberration := -20.4898 / (3600 * g.RadiusAU)
	g.SunLongitudeDeg = wholeTurn(g.HelioLongitudeDeg + 180 + g.NutationLongitudeDeg + aberration)

	sinLong, cosLong := sincosDeg(g.SunLongitudeDeg)
	sinObl, cosObl := sincosDeg(g.ObliquityDeg)
	sinLat, cosLat := sincosDeg(-g.HelioLatitudeDeg)
	g.RightAscensionDeg = wholeTurn(atan2Deg(float64(sinLong*cosObl)-float64(sinLat/cosLat*sinObl), cosLong))
	g.DeclinationDeg = asinDeg(float64(sinLat*cosObl) + float64(float64(cosLat*sinObl)*sinLong))

	mean := polynomial(millennium, 280.4664567, 360007.6982779, 0.03032028, 1.0/49931, -1.0/15300, -1.0/2000000)
	g.EquationOfTimeMin = 4 * halfTurn(mean-0.0057183-g.RightAscensionDeg+float64(g.NutationLongitudeDeg*cosObl))
	return g
}

// sidereal returns the apparent sidereal time at Greenwich [deg] (section 3.8).
func (g *Geocentric) sidereal(unixS float64) float64 {
	days := JulianDay(unixS) - 2451545
	century := days / 36525
	mean := 280.46061837 + float64(360.98564736629*days) +
		float64(century*century*(0.000387933-century/38710000))
	return wholeTurn(mean + float64(g.NutationLongitudeDeg*cosDeg(g.ObliquityDeg)))
}

// periodicSum sums a table A4.2: the n-th list of terms is the coefficient of millennia^n.
func periodicSum(table [][]periodic, millennia float64) float64 {
	total := 0.0
	for n := len(table) - 1; n >= 0; n-- {
		sum := 0.0
		for i := range table[n] {
			t := &table[n][i]
			_, cos := sincos(t.phase + float64(t.rate*millennia))
			sum += float64(t.amplitude * cos)
		}
		total = float64(total*millennia) + sum
	}
	return total / 1e8
}

// nutation returns the nutation in longitude and in obliquity [deg] (section 3.4).
func nutation(century float64) (longitude, obliquity float64) {
	x := [5]float64{
		polynomial(century, 297.85036, 445267.111480, -0.0019142, 1.0/189474), // elongation of the moon
		polynomial(century, 357.52772, 35999.050340, -0.0001603, -1.0/300000), // anomaly of the sun
		polynomial(century, 134.96298, 477198.867398, 0.0086972, 1.0/56250),   // anomaly of the moon
		polynomial(century, 93.27191, 483202.017538, -0.0036825, 1.0/327270),  // argument of the moon's latitude
		polynomial(century, 125.04452, -1934.136261, 0.0020708, 1.0/450000),   // the moon's ascending node
	}
	for i := range nutationTerms {
		t := &nutationTerms[i]
		arg := 0.0
		for k, n := range t.of {
			arg += float64(n * x[k])
		}
		sin, cos := sincosDeg(arg)
		longitude += float64((t.a + float64(t.b*century)) * sin)
		obliquity += float64((t.c + float64(t.d*century)) * cos)
	}
	return longitude / 36000000, obliquity / 36000000
}

// polynomial returns c[0] + c[1] x + c[2] x^2 and so on.
func polynomial(x float64, c ...float64) float64 {
	sum := 0.0
	for n := len(c) - 1; n >= 0; n-- {
		sum = float64(sum*x) + c[n]
	}
	return sum
}

func sincosDeg(deg float64) (sin, cos float64) { return sincos(deg * (math.Pi / 180)) }

// wholeTurn returns an angle [deg] as one of 0 to 360.
func wholeTurn(deg float64) float64 {
	deg = math.Mod(deg, 360)
	if deg < 0 {
		deg += 360
	}
	return deg
}

// halfTurn returns an angle [deg] as one of -180 to 180.
func halfTurn(deg float64) float64 {
	deg = wholeTurn(deg)
	if deg > 180 {
		deg -= 360
	}
	return deg
}

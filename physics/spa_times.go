package physics

// SunTimes are the times of one day [s since 1970-01-01 UT].
type SunTimes struct {
	TransitS float64 // the sun is highest
	RiseS    float64 // the upper limb appears
	SetS     float64 // the upper limb vanishes
}

// SunTimesOf returns transit, sunrise and sunset of the day whose transit falls into the
// UT day that begins at midnightS [s since 1970-01-01 UT]; ok is false where the sun
// neither rises nor sets on it. Sunrise may fall before and sunset after that UT day.
//
// Source: NREL/TP-560-34302, appendix A.2, with the upper limb at -0.8333 deg. One step of
// improvement as there: within seconds at middle latitudes. Altitude and hills are
// not modelled.
func SunTimesOf(midnightS, deltaTS float64, p Place) (times SunTimes, ok bool) {
	const limbDeg = -0.8333
	// At 0 h terrestrial time of the day before, the day and the day after.
	var day [3]Geocentric
	for i := range day {
		day[i] = GeocentricSun(midnightS+float64(86400*float64(i-1))-deltaTS, deltaTS)
	}
	now := GeocentricSun(midnightS, deltaTS)
	sidereal := now.sidereal(midnightS)

	sinLat, cosLat := sincosDeg(p.LatitudeDeg)
	sinDec, cosDec := sincosDeg(day[1].DeclinationDeg)
	cosHour := (sinDeg(limbDeg) - float64(sinLat*sinDec)) / float64(cosLat*cosDec)
	if !(cosHour >= -1 && cosHour <= 1) {
		return SunTimes{}, false
	}
	transit := wholeTurn(day[1].RightAscensionDeg-p.LongitudeDeg-sidereal) / 360 // [days]
	half := acosDeg(cosHour) / 360

	ascensionFrom, ascensionTo := halfTurn(day[1].RightAscensionDeg-day[0].RightAscensionDeg),
		halfTurn(day[2].RightAscensionDeg-day[1].RightAscensionDeg)
	declinationFrom, declinationTo := day[1].DeclinationDeg-day[0].DeclinationDeg,
		day[2].DeclinationDeg-day[1].DeclinationDeg
	// at returns hour angle and declination at a fraction of the day.
	at := func(days float64) (hour, declination float64) {
		n := days + deltaTS/86400
		ascension := day[1].RightAscensionDeg +
			float64(n/2*(ascensionFrom+ascensionTo+float64(n*(ascensionTo-ascensionFrom))))
		declination = day[1].DeclinationDeg +
			float64(n/2*(declinationFrom+declinationTo+float64(n*(declinationTo-declinationFrom))))
		return halfTurn(sidereal + float64(360.985647*days) + p.LongitudeDeg - ascension), declination
	}
	limb := func(days float64) float64 {
		hour, dec := at(days)
		sinDec, cosDec := sincosDeg(dec)
		sinHour, cosHour := sincosDeg(hour)
		elevation := asinDeg(float64(sinLat*sinDec) + float64(float64(cosLat*cosDec)*cosHour))
		return days + (elevation-limbDeg)/float64(360*float64(cosDec*cosLat)*sinHour)
	}
	hour, _ := at(transit)
	times.TransitS = midnightS + float64(86400*(transit-hour/360))
	times.RiseS = midnightS + float64(86400*limb(transit-half))
	times.SetS = midnightS + float64(86400*limb(transit+half))
	return times, true
}

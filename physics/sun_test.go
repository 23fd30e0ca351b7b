package physics

import (
	"math"
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"
)

// almanacSun is a second, independent course of the sun: the low-precision formulae of the
// Astronomical Almanac, within 0.01 deg from 1950 to 2050 (J. J. Michalsky, The Astronomical
// Almanac's algorithm for approximate solar position, Solar Energy 40(3), 1988; formulas
// from memory). It has neither nutation nor parallax.
func almanacSun(unixS int64, latitudeDeg, longitudeDeg float64) (elevationDeg, azimuthDeg float64) {
	const rad = math.Pi / 180
	days := float64(unixS-946728000) / 86400 // since 2000-01-01 12:00
	anomaly := (357.528 + 0.9856003*days) * rad
	ecliptic := (280.460 + 0.9856474*days + 1.915*math.Sin(anomaly) + 0.020*math.Sin(2*anomaly)) * rad
	obliquity := (23.439 - 0.0000004*days) * rad
	ascension := math.Atan2(math.Cos(obliquity)*math.Sin(ecliptic), math.Cos(ecliptic))
	declination := math.Asin(math.Sin(obliquity) * math.Sin(ecliptic))
	siderealH := 6.697375 + 0.0657098242*days + float64(((unixS%86400)+86400)%86400)/3600
	hour := (siderealH*15+longitudeDeg)*rad - ascension
	lat := latitudeDeg * rad
	elevation := math.Asin(math.Sin(lat)*math.Sin(declination) + math.Cos(lat)*math.Cos(declination)*math.Cos(hour))
	azimuth := math.Atan2(-math.Cos(declination)*math.Sin(hour),
		math.Cos(lat)*math.Sin(declination)-math.Sin(lat)*math.Cos(declination)*math.Cos(hour))
	return elevation / rad, math.Mod(azimuth/rad+360, 360)
}

// apart returns the angle between two directions [deg].
func apart(elevation1, azimuth1, elevation2, azimuth2 float64) float64 {
	const rad = math.Pi / 180
	half := func(a float64) float64 { s := math.Sin(a / 2 * rad); return s * s }
	h := half(elevation1-elevation2) + math.Cos(elevation1*rad)*math.Cos(elevation2*rad)*half(azimuth1-azimuth2)
	return 2 * math.Asin(math.Sqrt(h)) / rad
}

var _ = Describe("the sun over the site", func() {
	It("PV-09: zenith and azimuth of the worked example within 0.05 deg by a short formula (published), and here", func() {
		for _, course := range []func(int64, float64, float64) (float64, float64){almanacSun, SunPosition} {
			elevation, azimuth := course(int64(exampleS), examplePlace.LatitudeDeg, examplePlace.LongitudeDeg)
			Expect(90 - elevation).To(BeNumerically("~", 50.111622, 0.05))
			Expect(azimuth).To(BeNumerically("~", 194.340241, 0.05))
		}
	})

	// The tolerance is 0.01 deg of the almanac's formulae, 0.0024 deg of parallax and 0.005 deg of nutation.
	It("agrees with the almanac's formulae everywhere from 1950 to 2050", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			unixS := rapid.Int64Range(-631152000, 2524608000).Draw(t, "time")
			lat := rapid.Float64Range(-90, 90).Draw(t, "latitude")
			lon := rapid.Float64Range(-180, 180).Draw(t, "longitude")
			e1, a1 := SunPosition(unixS, lat, lon)
			e2, a2 := almanacSun(unixS, lat, lon)
			if d := apart(e1, a1, e2, a2); d > 0.018 {
				t.Fatalf("%v deg apart: %v, %v against %v, %v", d, e1, a1, e2, a2)
			}
		})
	})

	It("follows SPA within 1e-5 deg by straight lines of an hour, whatever was asked before", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			s := SkyParams{
				LatitudeDeg: rapid.Float64Range(-90, 90).Draw(t, "latitude"), LongitudeDeg: rapid.Float64Range(-180, 180).Draw(t, "longitude"),
				AltitudeM: rapid.Float64Range(0, 3000).Draw(t, "altitude"),
			}
			track := newSunTrack(&s)
			unixS := float64(rapid.Int64Range(-631152000, 2524608000).Draw(t, "time"))
			for range 4 {
				got, au := track.at(unixS)
				g, want := SPA(unixS, sunDeltaTS, track.place)
				if d := apart(got.ElevationDeg, got.AzimuthDeg, want.ElevationDeg, want.AzimuthDeg); d > 1e-5 {
					t.Fatalf("%v deg off", d)
				}
				if math.Abs(au-g.RadiusAU) > 1e-7 {
					t.Fatalf("%v AU off", au-g.RadiusAU)
				}
				fresh := newSunTrack(&s)
				if again, _ := fresh.at(unixS); again != got {
					t.Fatalf("%+v, but %+v of a fresh track", got, again)
				}
				unixS += float64(rapid.IntRange(0, 4000).Draw(t, "later"))
			}
		})
	})
})

func BenchmarkSPA(b *testing.B) {
	for b.Loop() {
		SPA(exampleS, exampleDeltaT, examplePlace)
	}
}

// BenchmarkSunTrack measures one knot of an array: a minute later each time.
func BenchmarkSunTrack(b *testing.B) {
	k := newSunTrack(&SkyParams{LatitudeDeg: 59.9, LongitudeDeg: 10.7})
	unixS := exampleS
	b.ReportAllocs()
	for b.Loop() {
		k.at(unixS)
		unixS += 60
	}
}

package physics

import (
	"math"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"
)

// The worked example of NREL/TP-560-34302, appendix A.5: 2003-10-17 12:30:30, UTC-7.
const (
	exampleS      = 1066419030.0
	exampleDeltaT = 67.0
)

var examplePlace = Place{
	LatitudeDeg: 39.742476, LongitudeDeg: -105.1786, AltitudeM: 1830.14,
	PressureMbar: 820, TemperatureC: 11, RefractionDeg: 0.5667,
}

var _ = Describe("the solar position algorithm, against the worked example of NREL/TP-560-34302", func() {
	g, t := SPA(exampleS, exampleDeltaT, examplePlace)

	It("PV-01: Julian day (published)", func() {
		Expect(JulianDay(exampleS)).To(BeNumerically("~", 2452930.312847, 1e-6))
	})
	It("PV-02: the earth's longitude, latitude and distance (published, pvlib-python tests/test_spa.py)", func() {
		Expect(g.HelioLongitudeDeg).To(BeNumerically("~", 24.0182616917, 1e-9))
		Expect(g.HelioLatitudeDeg).To(BeNumerically("~", -0.0001011219, 1e-9))
		Expect(g.RadiusAU).To(BeNumerically("~", 0.9965422974, 1e-9))
	})
	It("PV-03: right ascension, declination and hour angle (published, pvlib-python tests/test_spa.py)", func() {
		Expect(g.RightAscensionDeg).To(BeNumerically("~", 202.227408, 1e-5))
		Expect(g.DeclinationDeg).To(BeNumerically("~", -9.31434, 1e-5))
		Expect(t.HourAngleDeg).To(BeNumerically("~", 11.10590, 1e-5))
	})
	It("PV-04: zenith and azimuth (published, output of the report's program)", func() {
		Expect(t.ZenithDeg).To(BeNumerically("~", 50.111622, 1e-6))
		Expect(t.AzimuthDeg).To(BeNumerically("~", 194.340241, 1e-6))
	})
	It("PV-05: elevation without and with refraction (published, pvlib-python tests/test_spa.py)", func() {
		Expect(t.ElevationDeg).To(BeNumerically("~", 39.872046, 1e-6))
		Expect(t.ApparentDeg).To(BeNumerically("~", 39.888378, 1e-6))
	})
	It("PV-06: incidence on a plane of 30 deg, turned 10 deg east of south (published)", func() {
		Expect(IncidenceDeg(t.ApparentDeg, t.AzimuthDeg, 30, 180-10)).To(BeNumerically("~", 25.187000, 1e-6))
	})
	// The report's program folds every time into the UT day of the input. The sunset that it prints
	// for the 17th, 17:20:19, is the one at 00:20:19 UT on the 17th, which ends the local 16th.
	It("PV-07: sunrise and sunset (published; 1 s)", func() {
		at := func(day, h, m, s int) float64 {
			return float64(time.Date(2003, 10, day, h+7, m, s, 0, time.UTC).Unix())
		}
		times, ok := SunTimesOf(at(17, -7, 0, 0), exampleDeltaT, examplePlace)
		Expect(ok).To(BeTrue())
		Expect(times.RiseS).To(BeNumerically("~", at(17, 6, 12, 43), 1))
		before, ok := SunTimesOf(at(16, -7, 0, 0), exampleDeltaT, examplePlace)
		Expect(ok).To(BeTrue())
		Expect(before.SetS).To(BeNumerically("~", at(16, 17, 20, 19), 1))
		Expect(times.SetS).To(And(BeNumerically(">", at(17, 17, 18, 30)), BeNumerically("<", at(17, 17, 19, 10))),
			"in October each sunset comes about 90 s before that of the day before")
	})
	It("PV-08: to 1e-8 deg (recomputed with pvlib-python's spa.py)", func() {
		Expect(t.ZenithDeg).To(BeNumerically("~", 50.111622024, 1e-8))
		Expect(t.AzimuthDeg).To(BeNumerically("~", 194.340240510, 1e-8))
		Expect(IncidenceDeg(t.ApparentDeg, t.AzimuthDeg, 30, 170)).To(BeNumerically("~", 25.187000200, 1e-8))
		Expect(g.EquationOfTimeMin).To(BeNumerically("~", 14.641510771, 1e-8))
	})
})

// moments draws a time of the years 1950 to 2050 and a place out of the polar circles.
func moments(t *rapid.T) (unixS float64, p Place) {
	unixS = float64(rapid.Int64Range(-631152000, 2524608000).Draw(t, "time"))
	return unixS, Place{
		LatitudeDeg: rapid.Float64Range(-65, 65).Draw(t, "latitude"), LongitudeDeg: rapid.Float64Range(-180, 180).Draw(t, "longitude"),
		PressureMbar: 1013.25, TemperatureC: 12, RefractionDeg: 0.5667,
	}
}

var _ = Describe("the laws of the sun's course", func() {
	It("puts the upper limb on the horizon at sunrise and sunset, and the sun in the south or north at transit", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			unixS, p := moments(t)
			times, ok := SunTimesOf(unixS-math.Mod(unixS, 86400), 69, p)
			if !ok {
				return // a day of the far north or south without a sunrise
			}
			if times.TransitS < times.RiseS || times.TransitS > times.SetS {
				t.Fatalf("out of order: %+v", times)
			}
			// One step of improvement: 0.02 deg, most of it where the sun grazes the horizon.
			for _, s := range []float64{times.RiseS, times.SetS} {
				if _, sun := SPA(s, 69, p); math.Abs(sun.ElevationDeg+0.8333) > 0.02 {
					t.Fatalf("elevation of %v deg at a sunrise or sunset", sun.ElevationDeg)
				}
			}
			_, noon := SPA(times.TransitS, 69, p)
			if hour := halfTurn(noon.HourAngleDeg); math.Abs(hour) > 0.01 {
				t.Fatalf("hour angle of %v deg at transit", hour)
			}
		})
	})

	It("knows days without night and without day", func() {
		north := examplePlace
		north.LatitudeDeg = 70
		for _, month := range []time.Month{time.June, time.December} {
			_, ok := SunTimesOf(float64(time.Date(2026, month, 21, 0, 0, 0, 0, time.UTC).Unix()), 69, north)
			Expect(ok).To(BeFalse())
		}
	})

	It("moves the sun without jumps, never faster than the earth turns except near the zenith", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			unixS, p := moments(t)
			_, a := SPA(unixS, 69, p)
			_, b := SPA(unixS+60, 69, p)
			// A quarter of a degree a minute on the sphere; an azimuth turns faster by 1/cos(elevation).
			if d := math.Abs(b.ElevationDeg - a.ElevationDeg); d > 0.2515 {
				t.Fatalf("elevation moved by %v deg in a minute", d)
			}
			turned := math.Abs(halfTurn(b.AzimuthDeg - a.AzimuthDeg))
			if lowest := min(cosDeg(a.ElevationDeg), cosDeg(b.ElevationDeg)); turned*lowest > 0.26 && lowest > 0.02 {
				t.Fatalf("azimuth moved by %v deg in a minute at %v deg of elevation", turned, a.ElevationDeg)
			}
		})
	})
})

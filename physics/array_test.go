package physics

import (
	"math"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"
)

// roof is the bakery's array alone, on 18 June 2026 from midnight UTC.
func roof() Site {
	s := bakery()
	s.StepMS = 1000
	return s
}

// day runs an array for 24 hours under one constant factor of the sky, and calls see each second.
func day(s *Site, factor float64, see func(second int, a *Array)) *Array {
	a := newArray(&s.Arrays[0], s)
	for second := 1; second <= 86400; second++ {
		a.step(0, int64(second)*1000, factor, nil, nil)
		if see != nil {
			see(second, &a)
		}
	}
	return &a
}

// everyModel calls f with each combination of models that an array may follow.
func everyModel(f func(s *Site)) {
	for _, clear := range []ClearSkyModel{Haurwitz, IneichenPerez, SimplifiedSolis} {
		for _, diffuse := range []SkyDiffuseModel{LiuJordan, HayDavies} {
			for _, rated := range []float64{0, 0.96} {
				s := roof()
				s.Sky.ClearSky, s.Sky.Diffuse = clear, diffuse
				s.Arrays[0].RatedEfficiency, s.Arrays[0].LowLight = rated, 0.01
				f(&s)
			}
		}
	}
}

var _ = Describe("a PV array", func() {
	It("is dark at night, gives power by day, and never more than its inverter's rating", func() {
		everyModel(func(s *Site) {
			track := newSunTrack(&s.Sky)
			a := day(s, 1.45, func(second int, a *Array) {
				if a.PowerW > 0 || a.PowerW < -s.Arrays[0].RatingW*(1+1e-12) {
					Fail("beyond its bounds")
				}
				if second%97 != 0 {
					return
				}
				sun, _ := track.at(float64(s.Sky.StartUnixS) + float64(second))
				switch {
				case sun.ApparentDeg < -1 && a.PowerW != 0:
					// The knots are a minute apart, in which the sun rises by less than a degree.
					Fail("power at night")
				case sun.ApparentDeg > 10 && a.PowerW >= 0:
					Fail("no power by day")
				}
			})
			Expect(a.Energy.Wh()).To(BeNumerically(">", 0))
		})
	})

	// 12 kW at 59.9 deg north in June: a clear day's yield of 5 to 7.5 kWh per kW (common practice, no source).
	It("yields what a clear day in June may yield, by every model", func() {
		everyModel(func(s *Site) {
			Expect(day(s, 1, nil).Energy.Wh() / 1000).To(And(BeNumerically(">", 5*12), BeNumerically("<", 7.5*12)))
		})
	})

	It("gives more power the more light a cloud leaves", func() {
		everyModel(func(s *Site) {
			a := newArray(&s.Arrays[0], s)
			for ms := int64(0); ms < 86_400_000; ms += 613_000 {
				last := 0.0
				for factor := 0.0; factor <= 1.5; factor += 0.125 {
					p := a.output(ms, factor)
					if p < last || p < 0 {
						Fail("less power by more light")
					}
					last = p
				}
			}
		})
	})

	It("follows the part-load curve where a rated efficiency is given, and clips at the same rating", func() {
		s := roof()
		plain := newArray(&s.Arrays[0], &s)
		model := s.Arrays[0] // an array points to its parameters
		model.RatedEfficiency = 0.96
		curved := newArray(&model, &s)
		ms := int64(7 * 3600_000)
		dc := plain.output(ms, 0.5)
		Expect(dc).To(BeNumerically(">", 500))
		Expect(curved.output(ms, 0.5)).To(BeNumerically("~", PVWattsAC(dc, 10000/0.96, 0.96), 1e-9))
		noon := int64(11 * 3600_000)
		Expect(curved.output(noon, 3)).To(Equal(10000.0))
		Expect(plain.output(noon, 3)).To(Equal(10000.0))
	})

	It("moves smoothly under a clear sky, also where the sun is low", func() {
		everyModel(func(s *Site) {
			for _, facing := range []float64{90, 180, 270} {
				s.Arrays[0].AzimuthDeg = facing
				a := newArray(&s.Arrays[0], s)
				was := 0.0
				for ms := int64(0); ms < 86_400_000; ms += 60_000 {
					p := a.output(ms, 1)
					// The sun rises by 0.13 deg a minute here: less than 1 % of the peak power.
					if math.Abs(p-was) > 0.01*s.Arrays[0].PeakW {
						Fail("jumped")
					}
					was = p
				}
			}
		})
	})

	It("sleeps under its starting power", func() {
		s := roof()
		s.Arrays[0].StartSwitchedW = 100
		day(&s, 1, func(_ int, a *Array) {
			if a.PowerW != 0 && a.PowerW >= -100 {
				Fail("awake at too little light")
			}
		})
	})

	It("faces the sun: east before noon, west after, south in between", func() {
		energy := func(facing float64) (morning, evening float64) {
			s := roof()
			s.Arrays[0].AzimuthDeg, s.Arrays[0].TiltDeg = facing, 45
			const noonS = 11*3600 + 1038 // 10.7 deg east is 43 min before Greenwich
			a := day(&s, 1, func(second int, a *Array) {
				if second == noonS {
					morning = a.Energy.Wh()
				}
			})
			return morning, a.Energy.Wh() - morning
		}
		eastMorning, eastEvening := energy(90)
		westMorning, westEvening := energy(270)
		southMorning, southEvening := energy(180)
		Expect(eastMorning).To(BeNumerically(">", 2*eastEvening))
		Expect(westEvening).To(BeNumerically(">", 2*westMorning))
		Expect(southMorning).To(BeNumerically("~", southEvening, 0.03*southEvening))
		Expect(eastMorning).To(BeNumerically("~", westEvening, 0.03*westEvening))
	})

	It("gives more the brighter the measured irradiance, whatever the sun's height", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			ghi := rapid.Float64Range(0, 1200).Draw(t, "ghi")
			second := rapid.Int64Range(0, 86400).Draw(t, "second")
			at := func(ghi float64) float64 {
				s := roof()
				// A flat plane sees the global irradiance however it is split into beam and diffuse light.
				s.Arrays[0].TiltDeg, s.Arrays[0].NoctTempC = 0, 0
				s.Sky.StartUnixS += second
				s.Sky.Irradiance = []IrradiancePoint{{GHI: ghi}}
				a := newArray(&s.Arrays[0], &s)
				return a.output(0, 1)
			}
			if a, b := at(ghi), at(ghi+50); a < 0 || b < a {
				t.Fatalf("%v W of %v W/m2, %v W of 50 W/m2 more", a, ghi, b)
			}
		})
	})

	It("meets each measured point, however close to the next", func() {
		s := roof()
		s.Sky.StartUnixS += 10 * 3600
		s.Arrays[0].TiltDeg, s.Arrays[0].NoctTempC, s.Arrays[0].RatingW = 0, 0, 1e6
		for i := range int64(100) {
			s.Sky.Irradiance = append(s.Sky.Irradiance, IrradiancePoint{AtMS: i * 1700, GHI: 200 + 300*float64(i%2)})
		}
		a := newArray(&s.Arrays[0], &s)
		for _, p := range s.Sky.Irradiance {
			Expect(a.output(p.AtMS, 1)).To(BeNumerically("~", 12000*0.88*p.GHI/1000, 1e-6))
		}
	})

	It("allocates nothing in a step, under any sky", func() {
		everyModel(func(s *Site) {
			s.Sky.StartUnixS += 8 * 3600
			a := newArray(&s.Arrays[0], s)
			s.Sky.Irradiance = []IrradiancePoint{{GHI: 300}, {AtMS: 1_000_000, GHI: 700}, {AtMS: 2_000_000, GHI: 100}}
			b := newArray(&s.Arrays[0], s)
			ms := int64(0)
			Expect(allocations(func() {
				for range 10000 {
					ms += 1000
					a.step(0, ms, 0.9, nil, nil)
					b.step(0, ms, 0.9, nil, nil)
				}
			})).To(BeZero())
		})
	})

	It("refuses what an atmosphere and an inverter cannot be", func() {
		s := roof()
		s.Sky.AerosolDepth, s.Sky.AltitudeM, s.Arrays[0].RatedEfficiency = 2, 20000, 1.2
		_, err := New(s)
		Expect(err).To(MatchError(And(
			ContainSubstring("sky: aerosol depth 2: must be 0 to 0.45"),
			ContainSubstring("sky: altitude 20000: must be -500 to 9000"),
			ContainSubstring("roof: rated efficiency 1.2: must be 0 to 1"),
		)))
	})

	It("stays a number at the poles and on the equator", func() {
		everyModel(func(s *Site) {
			for _, latitude := range []float64{-90, 0, 90} {
				s.Sky.LatitudeDeg = latitude
				a := newArray(&s.Arrays[0], s)
				for ms := int64(0); ms < 86_400_000; ms += 1800_000 {
					Expect(math.IsNaN(a.output(ms, 1))).To(BeFalse())
				}
			}
		})
	})
})

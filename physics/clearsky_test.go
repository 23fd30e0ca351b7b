package physics

import (
	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"
)

var _ = Describe("clear sky", func() {
	agree := func(got Irradiance, ghi, dni, dhi, tolerance float64) {
		GinkgoHelper()
		Expect(got.GHI).To(BeNumerically("~", ghi, tolerance))
		Expect(got.DNI).To(BeNumerically("~", dni, tolerance))
		Expect(got.DHI).To(BeNumerically("~", dhi, tolerance))
	}

	DescribeTable("PV-20: Haurwitz (published, pvlib-python tests/test_clearsky.py test_haurwitz)",
		func(elevation, ghi float64) {
			Expect(ClearSkyGHI(elevation)).To(BeNumerically("~", ghi, 1e-8))
		},
		Entry(nil, -20.0, 0.0), Entry(nil, -0.05, 0.0), Entry(nil, 5.0, 48.6298687942),
		Entry(nil, 10.0, 135.741748092), Entry(nil, 30.0, 487.894132885),
		Entry(nil, 50.0, 778.766689344), Entry(nil, 90.0, 1035.09203253),
		Entry("PV-21 (recomputed)", 60.0, 888.2713352912),
	)

	It("PV-22: Ineichen and Perez (published, pvlib-python test_ineichen_scalar_input)", func() {
		agree(ClearSkyIneichen(10, 1, 3, 0, 1364), 1038.159219, 942.2081860378, 110.2652929361, 1e-6)
	})
	It("PV-23: the same with 1370 W/m2 outside the atmosphere (published, pvlib-python test_ineichen_dni_extra)", func() {
		agree(ClearSkyIneichen(10, 1, 3, 0, 1370), 1042.72590228, 946.35279683, 110.75033088, 1e-7)
	})
	It("PV-24: simplified Solis (published, pvlib-python test_simplified_solis_scalar_elevation)", func() {
		agree(ClearSkySolis(80, 0.1, 1, 101325, 1364), 1064.653145, 959.335463, 129.125602, 1e-6)
	})

	DescribeTable("simplified Solis over aerosol, water and pressure (published, pvlib-python tests/test_clearsky.py test_simplified_solis_*)",
		func(aerosol, water, pressure, dni, ghi, dhi float64) {
			agree(ClearSkySolis(80, aerosol, water, pressure, 1364), ghi, dni, dhi, 1e-7)
		},
		Entry("aod700", 0.0, 1.0, 101325.0, 1056.61710493, 1105.7229086, 64.41747323),
		Entry("aod700", 0.05, 1.0, 101325.0, 1007.50558875, 1085.74139063, 102.96233698),
		Entry("aod700", 1.0, 1.0, 101325.0, 342.45810926, 638.63409683, 77.71786575),
		Entry("precipitable water, less than 0.2 cm", 0.1, 0.0, 101325.0, 1001.15353307, 1107.84678941, 128.58887606),
		Entry("precipitable water", 0.1, 0.5, 101325.0, 983.51027357, 1089.62306672, 129.08755996),
		Entry("precipitable water", 0.1, 5.0, 101325.0, 872.02335029, 974.18046717, 125.63581346),
		Entry("pressure", 0.1, 1.0, 95000.0, 964.26930718, 1067.96543669, 127.22841797),
		Entry("pressure", 0.1, 1.0, 98000.0, 961.88811874, 1066.36847963, 128.1402539),
		Entry("all four", 0.5, 10.0, 101325.0, 530.31697378, 760.04527609, 232.21931597),
	)

	DescribeTable("relative airmass (published, pvlib-python tests/test_irradiance.py, fixture relative_airmass)",
		func(zenith, airmass float64) {
			Expect(RelativeAirmass(zenith)).To(BeNumerically("~", airmass, 1e-7))
		},
		Entry(nil, 82.85457044, 7.58831596), Entry(nil, 10.56413562, 1.01688136), Entry(nil, 72.41687122, 3.27930443),
	)

	It("has less air the higher the place (U.S. Standard Atmosphere 1976: 89874.6 Pa at 1000 m, 54019.9 Pa at 5000 m; from memory)", func() {
		Expect(StandardPressure(0)).To(Equal(101325.0))
		Expect(StandardPressure(1000)).To(BeNumerically("~", 89874.6, 5))
		Expect(StandardPressure(5000)).To(BeNumerically("~", 54019.9, 5))
	})

	// Every model, with whatever it may be given.
	skies := func(t *rapid.T) SkyParams {
		return SkyParams{
			AltitudeM:      rapid.Float64Range(0, 3000).Draw(t, "altitude"),
			ClearSky:       rapid.SampledFrom([]ClearSkyModel{Haurwitz, IneichenPerez, SimplifiedSolis}).Draw(t, "model"),
			LinkeTurbidity: rapid.Float64Range(1.5, 7).Draw(t, "turbidity"),
			AerosolDepth:   rapid.Float64Range(0.001, 0.45).Draw(t, "aerosol"),
			WaterCM:        rapid.Float64Range(0.2, 10).Draw(t, "water"),
		}
	}
	under := func(s *SkyParams, elevation float64) Irradiance {
		return s.clear(&Topocentric{ApparentDeg: elevation, ZenithDeg: 90 - elevation}, 1361)
	}

	It("is dark at night", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			s := skies(t)
			if r := under(&s, rapid.Float64Range(-90, 0).Draw(t, "elevation")); r != (Irradiance{}) {
				t.Fatalf("%+v at night", r)
			}
		})
	})

	It("is never negative, never brighter than the sun outside, and brighter the higher the sun", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			s := skies(t)
			low := rapid.Float64Range(0.01, 89).Draw(t, "low")
			high := low + rapid.Float64Range(0.01, 1).Draw(t, "more")
			a, b := under(&s, low), under(&s, high)
			for _, r := range []Irradiance{a, b} {
				if r.GHI < 0 || r.DNI < 0 || r.DHI < 0 || r.DNI > 1361 || r.GHI > 1361 {
					t.Fatalf("%+v", r)
				}
			}
			if b.GHI < a.GHI {
				t.Fatalf("%v W/m2 at %v deg, but %v W/m2 at %v deg", a.GHI, low, b.GHI, high)
			}
		})
	})

	It("has models that agree within an eighth under a high sun and a common sky", func() {
		for _, elevation := range []float64{30, 45, 60} {
			h := under(&SkyParams{}, elevation)
			for _, m := range []ClearSkyModel{IneichenPerez, SimplifiedSolis} {
				r := under(&SkyParams{ClearSky: m}, elevation)
				Expect(r.GHI).To(BeNumerically("~", h.GHI, h.GHI/8))
			}
		}
	})
})

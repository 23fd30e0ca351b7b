package physics

import (
	"math"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"
)

var _ = Describe("PV, against published values", func() {
	It("PV-30: DC power (published, pvlib-python tests/test_pvsystem.py)", func() {
		Expect(PVWattsDC(900, 30, 100, -0.003)).To(BeNumerically("~", 88.65, 1e-9))
	})

	It("PV-31: DC power with the loss at low light (published, pvlib-python tests/test_pvsystem.py)", func() {
		Expect(PVWattsLowLightDC(100, 30, 100, -0.003, 0.01, false)).To(BeNumerically("~", 8.9125, 1e-9))
		Expect(PVWattsLowLightDC(1200, 30, 100, -0.003, 0.01, false)).To(BeNumerically("~", 118.45, 1e-9))
		Expect(PVWattsLowLightDC(1200, 30, 100, -0.003, 0.01, true)).To(BeNumerically("~", 118.2, 1e-9))
	})

	DescribeTable("PV-32: DC power of 5 kW (recomputed from the formula)",
		func(irradiance, cell, watts float64) {
			Expect(PVWattsDC(irradiance, cell, 5000, -0.0037)).To(BeNumerically("~", watts, 1e-9))
		},
		Entry(nil, 800.0, 45.0, 3704.0), Entry(nil, 1000.0, 25.0, 5000.0),
		Entry(nil, 200.0, 15.0, 1037.0), Entry(nil, 1400.0, 35.0, 6741.0),
	)

	DescribeTable("PV-33 and PV-34: AC power of 100 W DC, efficiency 0.95 (published, pvlib-python tests/test_inverter.py)",
		func(dc, ac, tolerance float64) {
			Expect(PVWattsAC(dc, 100, 0.95)).To(BeNumerically("~", ac, tolerance))
		},
		Entry("PV-33", 90.0, 85.58556604752516, 1e-9), Entry("PV-34", 0.0, 0.0, 1e-8),
		Entry("PV-34", 50.0, 47.60843624, 1e-8), Entry("PV-34", 100.0, 95.0, 1e-8),
	)

	It("PV-35: AC power is never negative (published, pvlib-python tests/test_inverter.py)", func() {
		Expect(PVWattsAC(0.001, 1, 0.95)).To(Equal(0.0))
	})

	DescribeTable("PV-36: an AC rating of 5 kW, efficiency 0.96 (recomputed from the formula)",
		func(dc, ac float64) {
			Expect(PVWattsAC(dc, 5000/0.96, 0.96)).To(BeNumerically("~", ac, 1e-4))
		},
		Entry(nil, 250.0, 214.698948), Entry(nil, 2500.0, 2405.061326), Entry(nil, 5000.0, 4802.003113),
	)

	part := func(load float64) float64 { return PVWattsEfficiency(load, 0.96) }

	DescribeTable("PV-37: part-load efficiency (recomputed from the formula)",
		func(load, eta float64) {
			Expect(part(load)).To(BeNumerically("~", eta, 1e-9))
		},
		Entry(nil, 0.05, 0.863661305), Entry(nil, 0.1, 0.921627892), Entry(nil, 0.2, 0.949400851),
		Entry(nil, 0.3, 0.957582650), Entry(nil, 0.5, 0.962191553), Entry(nil, 0.75, 0.962075335), Entry(nil, 1.0, 0.96),
	)

	It("PV-38: the system's losses are a product, not the sum 15 % (published, pvlib-python test_pvwatts_losses_default)", func() {
		Expect(100 * DefaultPVWattsLosses.Total()).To(BeNumerically("~", 14.075660688264469, 1e-12))
	})

	// King et al., SAND2007-5036, with the parameters of pvlib-python's fixture cec_inverter_parameters.
	sandia := SandiaInverter{
		RatedACW: 250, RatedDCW: 259.5220505, RatedV: 40.24260317, StartW: 1.771614224,
		C0: -2.48e-5, C1: -9.01e-5, C2: 6.69e-4, C3: -0.0189, NightW: 0.02,
	}
	DescribeTable("PV-39 and PV-40: the Sandia inverter model",
		func(volts, dc, ac, tolerance float64) {
			Expect(sandia.ACPower(volts, dc)).To(BeNumerically("~", ac, tolerance))
		},
		Entry("PV-39 (published, pvlib-python tests/test_inverter.py)", 0.0, 0.0, -0.02, 1e-5),
		Entry("PV-39 (published)", 25.0, 137.5, 132.004278, 1e-5),
		Entry("PV-39 (recomputed)", 25.0, 137.5, 132.004278492, 1e-8),
		Entry("PV-39 (published)", 50.0, 550.0, 250.0, 1e-5),
		Entry("PV-40 (recomputed)", 40.24260317, 259.5220505, 250.0, 1e-8),
		Entry("PV-40 (recomputed)", 40.24260317, 100.0, 95.663309616, 1e-8),
		Entry("PV-40 (recomputed)", 40.24260317, 1.0, -0.02, 1e-8),
	)

	It("PV-41: European weights (published, EN 50530 annex D, from a secondary source)", func() {
		Expect(EuroWeights).To(Equal([6]LoadWeight{{0.05, 0.03}, {0.10, 0.06}, {0.20, 0.13}, {0.30, 0.10}, {0.50, 0.48}, {1, 0.20}}))
	})
	It("PV-43: weights of the CEC guidelines (from memory)", func() {
		Expect(CECWeights).To(Equal([6]LoadWeight{{0.10, 0.04}, {0.20, 0.05}, {0.30, 0.12}, {0.50, 0.21}, {0.75, 0.53}, {1, 0.05}}))
	})
	It("PV-41 and PV-43: weights sum to 1", func() {
		one := func(float64) float64 { return 1 }
		Expect(WeightedEfficiency(EuroWeights, one)).To(BeNumerically("~", 1, 1e-15))
		Expect(WeightedEfficiency(CECWeights, one)).To(BeNumerically("~", 1, 1e-15))
	})
	It("PV-42, PV-44 and PV-45: weighted efficiencies (recomputed; those by CEC weights rest on PV-43, from memory)", func() {
		table := func(weights [6]LoadWeight, values ...float64) func(float64) float64 {
			return func(load float64) float64 {
				for i, w := range weights {
					if w.Load == load {
						return values[i]
					}
				}
				return math.NaN()
			}
		}
		Expect(WeightedEfficiency(EuroWeights, table(EuroWeights, 0.90, 0.94, 0.96, 0.97, 0.975, 0.97))).To(BeNumerically("~", 0.9672, 1e-12))
		Expect(WeightedEfficiency(CECWeights, table(CECWeights, 0.94, 0.96, 0.97, 0.975, 0.973, 0.97))).To(BeNumerically("~", 0.97094, 1e-12))
		Expect(WeightedEfficiency(EuroWeights, part)).To(BeNumerically("~", 0.954239834, 1e-9))
		Expect(WeightedEfficiency(CECWeights, part)).To(BeNumerically("~", 0.959205230, 1e-9))
	})

	It("gives cells at 45 degC where the nominal cell temperature is defined (IEC 61215, from memory)", func() {
		Expect(CellTemperature(800, 20, 45)).To(Equal(45.0))
	})

	// Tilt 40 deg, facing south; 1321.1656 W/m2 outside the atmosphere.
	DescribeTable("diffuse light of a tilted plane (published, pvlib-python tests/test_irradiance.py test_haydavies, test_isotropic_series)",
		func(zenith, azimuth, dni, dhi, even, hayDavies float64) {
			r := Irradiance{DNI: dni, DHI: dhi}
			Expect(SkyDiffuse(r, LiuJordan, 90-zenith, azimuth, 40, 180, 1321.1655834833093)).To(BeNumerically("~", even, 1e-4))
			Expect(SkyDiffuse(r, HayDavies, 90-zenith, azimuth, 40, 180, 1321.1655834833093)).To(BeNumerically("~", hayDavies, 1e-4))
		},
		Entry("night", 124.0390863, 352.69550699, 0.0, 0.0, 0.0, 0.0),
		Entry("morning", 82.85457044, 66.71410338, 316.1949056, 40.46149818, 35.728402, 27.1775),
		Entry("noon", 10.56413562, 144.76567754, 939.95469881, 118.45831879, 104.601328, 102.9949),
		Entry("evening", 72.41687122, 287.04104128, 646.22886049, 62.03376265, 54.777191, 33.1909),
	)

	It("reflects a share of the ground (published, pvlib-python test_get_ground_diffuse_simple_float)", func() {
		p := Plane{TiltDeg: 40, GroundShare: 0.25}
		Expect(p.Global(Irradiance{GHI: 900}, LiuJordan, 50, 180, 1361)).To(BeNumerically("~", 26.32000014911496, 1e-9))
	})
})

var _ = Describe("the laws of PV", func() {
	It("DC power rises with irradiance, falls with heat, and is never negative", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			g := rapid.Float64Range(0, 1500).Draw(t, "irradiance")
			more := rapid.Float64Range(0, 300).Draw(t, "more")
			cell := rapid.Float64Range(-40, 90).Draw(t, "cell")
			coeff := rapid.Float64Range(-0.006, 0).Draw(t, "coefficient")
			k := rapid.Float64Range(0, 0.02).Draw(t, "low light")
			at := func(g, cell float64) float64 { return PVWattsLowLightDC(g, cell, 5000, coeff, k, true) }
			if a, b := at(g, cell), at(g+more, cell); a < 0 || b < a-1e-9 {
				t.Fatalf("%v W, then %v W at more light", a, b)
			}
			if a, b := at(g, cell), at(g, cell+5); b > a+1e-9 {
				t.Fatalf("%v W, then %v W at more heat", a, b)
			}
		})
	})

	It("AC power rises with DC power, stays below it and within the rating, and is never negative", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			nominal := rapid.Float64Range(0.8, 0.99).Draw(t, "nominal")
			dc := rapid.Float64Range(0, 2000).Draw(t, "dc")
			more := dc + rapid.Float64Range(0, 100).Draw(t, "more")
			a, b := PVWattsAC(dc, 1000, nominal), PVWattsAC(more, 1000, nominal)
			if a < 0 || a > dc || a > 1000*nominal || b < a-1e-9 {
				t.Fatalf("%v W of %v W, then %v W of %v W", a, dc, b, more)
			}
		})
	})

	It("a horizontal plane sees the global irradiance, whatever the model", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			elevation := rapid.Float64Range(2, 90).Draw(t, "elevation")
			r := SplitErbs(rapid.Float64Range(0, 1300).Draw(t, "ghi"), elevation, 1361)
			for _, m := range []SkyDiffuseModel{LiuJordan, HayDavies} {
				g := Plane{FacingDeg: rapid.Float64Range(0, 360).Draw(t, "facing"), GroundShare: 0.2}.
					Global(r, m, elevation, rapid.Float64Range(0, 360).Draw(t, "azimuth"), 1361)
				if math.Abs(g-r.GHI) > 1e-9*(1+r.GHI) {
					t.Fatalf("%v W/m2 of %v W/m2", g, r.GHI)
				}
			}
		})
	})

	It("splits irradiance into parts that sum to it, none of them negative", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			ghi := rapid.Float64Range(-10, 1600).Draw(t, "ghi")
			elevation := rapid.Float64Range(-10, 90).Draw(t, "elevation")
			r := SplitErbs(ghi, elevation, 1361)
			if r.DHI < 0 || r.DNI < 0 || r.DNI > 1361 || math.Abs(r.DHI+r.DNI*math.Sin(elevation*math.Pi/180)-max(ghi, 0)) > 1e-9*1600 {
				t.Fatalf("%+v of %v W/m2 at %v deg", r, ghi, elevation)
			}
		})
	})

	It("a plane never takes negative light, and more light of one kind never makes it darker", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			p := Plane{
				TiltDeg: rapid.Float64Range(0, 90).Draw(t, "tilt"), FacingDeg: rapid.Float64Range(0, 360).Draw(t, "facing"),
				GroundShare: rapid.Float64Range(0, 1).Draw(t, "ground"),
			}
			elevation, azimuth := rapid.Float64Range(0, 90).Draw(t, "elevation"), rapid.Float64Range(0, 360).Draw(t, "azimuth")
			r := Irradiance{DNI: rapid.Float64Range(0, 1100).Draw(t, "dni"), DHI: rapid.Float64Range(0, 500).Draw(t, "dhi")}
			r.GHI = r.DHI + r.DNI*math.Sin(elevation*math.Pi/180)
			for _, m := range []SkyDiffuseModel{LiuJordan, HayDavies} {
				more := r
				more.DHI += 10
				more.GHI += 10
				a, b := p.Global(r, m, elevation, azimuth, 1361), p.Global(more, m, elevation, azimuth, 1361)
				if a < 0 || b < a {
					t.Fatalf("%v W/m2, then %v W/m2 at more diffuse light", a, b)
				}
			}
		})
	})
})

package physics

import (
	"math"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"
)

var _ = Describe("the voltage of the supply", func() {
	It("GV-20, GV-21: has a reference impedance (IEC 60725, published, secondary), whose parts (from memory) sum up to it", func() {
		Expect(ReferenceImpedance()).To(Equal(Impedance{0.40, 0.25}))
		sum := ReferencePhaseImpedance().Plus(ReferenceNeutralImpedance())
		Expect(sum.ResistanceOhm).To(BeNumerically("~", 0.40, 1e-15))
		Expect(sum.ReactanceOhm).To(BeNumerically("~", 0.25, 1e-15))
	})

	DescribeTable("GV-01 to GV-11: the approximation understates a drop and overstates a rise (recomputed)",
		func(z Impedance, p, q, approximately float64) {
			dv := VoltageChangeApprox(230, z, p, q)
			Expect(dv).To(BeNumerically("~", approximately, 1e-4))
			Expect(VoltageAtInlet(230, z.ResistanceOhm, z.ReactanceOhm, p, q) - 230).To(BeNumerically("<", dv))
		},
		Entry("GV-01", ReferenceImpedance(), 1000.0, 0.0, -1.7391),
		Entry("GV-02", ReferenceImpedance(), 3680.0, 0.0, -6.4000),
		Entry("GV-03", ReferenceImpedance(), 7360.0, 0.0, -12.8000),
		Entry("GV-04", ReferenceImpedance(), -3680.0, 0.0, 6.4000),
		Entry("GV-05", ReferenceImpedance(), -5000.0, 0.0, 8.6957),
		Entry("GV-06", ReferenceImpedance(), -10000.0, 0.0, 17.3913),
		Entry("GV-07", ReferenceImpedance(), -5000.0, 2180.0, 6.3261),
		Entry("GV-08", ReferencePhaseImpedance(), 3680.0, 0.0, -3.8400),
		Entry("GV-09", ReferencePhaseImpedance(), -5000.0, 0.0, 5.2174),
		Entry("GV-10", ReferencePhaseImpedance(), -10000.0, 0.0, 10.4348),
		Entry("GV-11", ReferencePhaseImpedance(), -5000.0, 2180.0, 3.7957),
	)

	It("GV-12: constant current at unity power factor (recomputed)", func() {
		for i, v := range map[float64]float64{10: 226.0138, 16: 223.6358, 32: 217.3473, 0: 230} {
			Expect(VoltageUnderPhasor(230, ReferenceImpedance(), i, 0)).To(BeNumerically("~", v, 1e-4))
			// At its own terminals the same current leaves a little less voltage, by hand:
			// sqrt(Vs^2 - (I X)^2) - I R.
			Expect(VoltageUnderCurrent(230, ReferenceImpedance(), i, 1)).To(
				BeNumerically("~", math.Sqrt(230*230-i*i*0.0625)-0.4*i, 1e-9))
		}
		Expect(VoltageUnderCurrent(230, ReferenceImpedance(), 1000, 1)).To(BeZero())
	})

	It("is complex arithmetic for a current at any angle to the source", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			p, q := rapid.Float64Range(-60, 60).Draw(t, "active"), rapid.Float64Range(-60, 60).Draw(t, "reactive")
			v := 230 - complex(p, -q)*complex(0.40, 0.25)
			if got, want := VoltageUnderPhasor(230, ReferenceImpedance(), p, q), math.Hypot(real(v), imag(v)); math.Abs(got-want) > 1e-9 {
				t.Fatalf("%v V, complex arithmetic has %v V", got, want)
			}
		})
	})

	It("agrees between constant current and constant power, at any power factor", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			i := rapid.Float64Range(-60, 60).Draw(t, "amps")
			pf := rapid.Float64Range(-1, 1).Draw(t, "power factor")
			v := VoltageUnderCurrent(230, ReferenceImpedance(), i, pf)
			c := math.Abs(pf)
			q := v * i * math.Sqrt((1-c)*(1+c))
			if pf < 0 {
				q = -q
			}
			if got := VoltageAtInlet(230, 0.40, 0.25, v*i*c, q); math.Abs(got-v) > 1e-9 {
				t.Fatalf("%v V by current, %v V by power", v, got)
			}
		})
	})

	It("GV-30, GV-31: classifies 10 min means of voltage (EN 50160 4.2.2, published, secondary)", func() {
		b := VoltageBandEN50160(230)
		for _, x := range []struct {
			v     float64
			place BandPlace
		}{{207, WithinTight}, {253, WithinTight}, {206.9, WithinWide}, {195.5, WithinWide}, {195.4, OutsideBands}, {253.1, OutsideBands}, {math.NaN(), OutsideBands}} {
			Expect(b.Place(x.v)).To(Equal(x.place), "%g V", x.v)
		}
		week := make([]float64, 1008)
		for i := range week {
			week[i] = 230
		}
		for i := range 50 { // 4.96 % of a week
			week[i] = 200
		}
		c := ClassifyBand(b, week)
		Expect(c.Ok()).To(BeTrue())
		Expect(c.TightShare()).To(BeNumerically("~", 958.0/1008, 1e-12))
		week[50] = 200
		c = ClassifyBand(b, week)
		Expect(c.Ok()).To(BeFalse())
		one := ClassifyBand(b, append(week[51:], 254))
		Expect(one.Ok()).To(BeFalse())
		Expect((&BandCount{Band: b}).Ok()).To(BeTrue())
	})

	It("makes 10 min means of a voltage as it comes: the root of the mean of the squares", func() {
		r := NewIntervalRMS(600, 0.1)
		for i := range 12000 {
			v := 220.0
			if i%6000 >= 3000 {
				v = 240
			}
			Expect(r.Step(v)).To(Equal(i%6000 == 5999))
		}
		Expect(r.Value).To(BeNumerically("~", math.Sqrt((220*220+240*240)/2), 1e-9))
	})

	It("GV-32 to GV-34: bands of frequency and flicker (EN 50160; GV-32 published, GV-33 and GV-34 from memory)", func() {
		f, island, plt := FrequencyBandEN50160(), IslandFrequencyBandEN50160(), PltBandEN50160()
		Expect(f.Place(49.5)).To(Equal(WithinTight))
		Expect(f.Place(47)).To(Equal(WithinWide))
		Expect(f.Place(52)).To(Equal(WithinWide))
		Expect(f.Place(52.1)).To(Equal(OutsideBands))
		Expect(f.TightShare).To(Equal(0.995))
		Expect(island.Place(51)).To(Equal(WithinTight))
		Expect(island.Place(42.5)).To(Equal(WithinWide))
		Expect(island.Place(58)).To(Equal(OutsideBands))
		Expect(plt.Place(1)).To(Equal(WithinTight))
		Expect(plt.Place(3)).To(Equal(WithinWide))
	})
})

var _ = Describe("flicker by the analytical method", func() {
	pst := func(n int, d float64) float64 { return PstOfFlickerTime(float64(n) * FlickerTime(1, d)) }

	// IEC 61000-3-3 annex B (FL-01, published, secondary); the numbers recomputed.
	It("FL-01 to FL-05: gives Pst of steps in ten minutes", func() {
		Expect(FlickerTime(1, 1)).To(BeNumerically("~", 2.3, 1e-12))
		Expect(pst(1, 1)).To(BeNumerically("~", 0.175739, 1e-6))
		for d, p := range map[float64]float64{1: 0.360884, 2: 0.721768, 3.3: 1.190917} {
			Expect(pst(10, d)).To(BeNumerically("~", p, 1e-6))
		}
		Expect(pst(60, 1)).To(BeNumerically("~", 0.631742, 1e-6))
		Expect(pst(300, 1)).To(BeNumerically("~", 1.044643, 1e-6))
		Expect(FlickerTime(1, 4)).To(BeNumerically("~", 194.231564, 1e-6))
		Expect(pst(1, 4)).To(BeNumerically("~", 0.702955, 1e-6))
	})

	It("FL-06: gives the step for Pst = 1 (recomputed)", func() {
		for rate, d := range map[float64]float64{1: 2.7710, 2: 2.2313, 7: 1.5085, 10: 1.3494, 39: 0.8819} {
			Expect(FlickerChangePercent(rate)).To(BeNumerically("~", d, 1e-4))
		}
	})

	It("FL-07: Plt is the cube mean of twelve (recomputed from IEC 61000-4-15)", func() {
		half, one := make([]float64, 12), make([]float64, 12)
		for i := range half {
			half[i] = 0.5 + 0.5*float64(i%2)
		}
		one[3] = 1
		Expect(Plt(half)).To(BeNumerically("~", 0.825481812, 1e-9))
		Expect(Plt(one)).To(BeNumerically("~", 0.436790232, 1e-9))
	})

	It("FL-08: a vehicle that starts to charge on the reference impedance (recomputed)", func() {
		for watts, want := range map[float64][2]float64{3680: {2.881194, 0.506338}, 7360: {5.988165, 1.052353}} {
			d := 100 * (1 - VoltageAtInlet(230, 0.40, 0.25, watts, 0)/230)
			Expect(d).To(BeNumerically("~", want[0], 1e-5))
			Expect(pst(1, d)).To(BeNumerically("~", want[1], 1e-5))
		}
	})

	It("GV-22, GV-23: knows the limits of IEC 61000-3-3 clause 5 (GV-22 published, secondary; GV-23 from memory)", func() {
		Expect([]float64{FlickerDcPercent, FlickerDmaxPercent, FlickerPstLimit, FlickerPltLimit}).To(Equal([]float64{3.3, 4, 1, 0.65}))
		Expect(FlickerOverDcS).To(Equal(0.5))
	})

	It("counts steps of a voltage as it comes, a ramp as one step", func() {
		f := NewStepFlicker(230, 0, 0.1)
		for i := range 6000 {
			v := 230.0
			if i%1200 >= 600 { // ten changes in ten minutes, the first of them the edge at 60 s
				v -= 2.3
			}
			done := f.Step(v)
			Expect(done).To(Equal(i == 5999))
		}
		Expect(f.Pst).To(BeNumerically("~", pst(9, 1), 1e-9))
		for i := range 6000 {
			f.Step(227.7 + 4.6*min(1, float64(i)/10))
		}
		Expect(f.Pst).To(BeNumerically("~", pst(1, 2), 1e-9))
		quiet := NewStepFlicker(230, 0.1, 0.1)
		for i := range 6000 {
			quiet.Step(230 + 0.1*float64(i%2))
		}
		Expect(quiet.Pst).To(BeZero())
	})
})

package physics

import (
	"math"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"
)

var _ = Describe("the accuracy of transformers and meters", func() {
	inf := math.Inf(1)

	DescribeTable("CT-01 to CT-05: limits of ratio error and phase displacement (IEC 61869-2 table 201, published, secondary)",
		func(c CTClass, percent, ratio, minutes float64) {
			r, m := CTErrorLimit(c, percent)
			Expect(r).To(Equal(ratio))
			Expect(m).To(Equal(minutes))
		},
		Entry("CT-01", CTClass05, 5.0, 1.5, 90.0), Entry("CT-01", CTClass05, 20.0, 0.75, 45.0),
		Entry("CT-01", CTClass05, 100.0, 0.5, 30.0), Entry("CT-01", CTClass05, 120.0, 0.5, 30.0),
		Entry("CT-02", CTClass1, 5.0, 3.0, 180.0), Entry("CT-02", CTClass1, 20.0, 1.5, 90.0),
		Entry("CT-02", CTClass1, 100.0, 1.0, 60.0), Entry("CT-02", CTClass1, 120.0, 1.0, 60.0),
		Entry("CT-03", CTClass05S, 1.0, 1.5, 90.0), Entry("CT-03", CTClass05S, 5.0, 0.75, 45.0),
		Entry("CT-03", CTClass05S, 20.0, 0.5, 30.0), Entry("CT-03", CTClass05S, 100.0, 0.5, 30.0),
		Entry("CT-03", CTClass05S, 120.0, 0.5, 30.0),
		Entry("CT-04", CTClass02, 5.0, 0.75, 30.0), Entry("CT-04", CTClass02, 20.0, 0.35, 15.0),
		Entry("CT-04", CTClass02, 100.0, 0.2, 10.0), Entry("CT-04", CTClass02, 120.0, 0.2, 10.0),
		Entry("CT-05", CTClass3, 50.0, 3.0, inf), Entry("CT-05", CTClass3, 120.0, 3.0, inf),
		Entry("CT-05", CTClass5, 50.0, 5.0, inf), Entry("CT-05", CTClass5, 120.0, 5.0, inf),
		Entry("outside the table", CTClass05, 4.9, inf, inf), Entry("outside the table", CTClass05, 121.0, inf, inf),
		Entry("between its points, by hand", CTClass05, 12.5, 1.125, 67.5),
	)

	It("CT-06: the ratio error is (Kn Is - Ip) / Ip (IEC 61869-2, published, secondary; numbers by hand)", func() {
		Expect(RatioErrorPercent(20, 4.95, 100)).To(BeNumerically("~", -1, 1e-12))
	})

	It("CT-07: a phase displacement becomes an error of power (recomputed)", func() {
		for _, x := range []struct{ minutes, phi, percent float64 }{
			{30, 0, -0.003808}, {30, 60, 1.507673}, {60, 60, 3.007615}, {90, 60, 4.499713}, {30, 85, 9.970668},
			{-30, 60, -1.515288}, {-60, 60, -3.038076}, {-90, 60, -4.568248}, {-30, 85, -9.978283},
		} {
			Expect(100 * PhaseErrorOfPower(x.minutes, x.phi)).To(BeNumerically("~", x.percent, 1e-6))
		}
	})

	It("CT-08, CT-09: limits of meter classes (IEC 62053-21 table 6, IEC 62053-22 table 4, from memory)", func() {
		for _, x := range []struct {
			class         MeterClass
			current       float64
			halfInductive bool
			percent       float64
		}{
			{MeterClass1, 0.04, false, inf}, {MeterClass1, 0.05, false, 1.5}, {MeterClass1, 0.1, false, 1}, {MeterClass1, 6, false, 1},
			{MeterClass1, 0.05, true, inf}, {MeterClass1, 0.1, true, 1.5}, {MeterClass1, 0.2, true, 1},
			{MeterClass2, 0.04, false, inf}, {MeterClass2, 0.05, false, 2.5}, {MeterClass2, 0.1, false, 2}, {MeterClass2, 0.1, true, 2.5}, {MeterClass2, 0.2, true, 2},
			{MeterClass05S, 0.01, false, 1}, {MeterClass05S, 0.05, false, 0.5}, {MeterClass05S, 1.2, false, 0.5},
			{MeterClass05S, 0.01, true, inf}, {MeterClass05S, 0.02, true, 1}, {MeterClass05S, 0.1, true, 0.6},
		} {
			Expect(MeterErrorLimit(x.class, x.current, x.halfInductive)).To(Equal(x.percent))
		}
	})
})

var _ = Describe("the wiring of a three-phase meter", func() {
	sum := func(p [3]float64) float64 { return p[0] + p[1] + p[2] }
	even := [3]float64{2300, 2300, 2300} // 230 V, 10 A per phase

	DescribeTable("CT-20 to CT-24: faults at unity power factor (recomputed)",
		func(change func(w *CTWiring), total float64) {
			w := RightWiring()
			change(&w)
			Expect(sum(w.Measure(even, [3]float64{}))).To(BeNumerically("~", total, 1e-9))
		},
		Entry("CT-20: none", func(w *CTWiring) {}, 6900.0),
		Entry("CT-21: one reversed", func(w *CTWiring) { w[1].Reversed = true }, 2300.0),
		Entry("CT-22: all reversed", func(w *CTWiring) { w[0].Reversed, w[1].Reversed, w[2].Reversed = true, true, true }, -6900.0),
		Entry("CT-23: two swapped", func(w *CTWiring) { w[0], w[1] = w[1], w[0] }, 0.0),
		Entry("CT-24: all rotated", func(w *CTWiring) { w[0], w[1], w[2] = w[1], w[2], w[0] }, -3450.0),
		Entry("rotated the other way, by hand", func(w *CTWiring) { w[0], w[1], w[2] = w[2], w[0], w[1] }, -3450.0),
		Entry("one fitted nowhere, by hand", func(w *CTWiring) { w[2] = CT{} }, 4600.0),
	)

	It("rotates a reactive load into active power, one way up and the other way down", func() {
		// By hand: every input reads P cos 120 -+ Q sin 120.
		q := ReactiveAt(2300, 0.8)
		Expect(q).To(BeNumerically("~", 1725, 1e-9))
		Expect(ReactiveAt(2300, -0.8)).To(BeNumerically("~", -1725, 1e-9))
		reactive := [3]float64{q, q, q}
		w := RightWiring()
		w[0], w[1], w[2] = w[1], w[2], w[0]
		Expect(sum(w.Measure(even, reactive))).To(BeNumerically("~", 3*(-1150-1725*math.Sqrt(3)/2), 1e-9))
		w = RightWiring()
		w[0], w[1], w[2] = w[2], w[0], w[1]
		Expect(sum(w.Measure(even, reactive))).To(BeNumerically("~", 3*(-1150+1725*math.Sqrt(3)/2), 1e-9))
	})

	It("is what the phasors of voltage and current give, at any wiring and load", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			var p, q [3]float64
			var w CTWiring
			for k := range p {
				p[k], q[k] = rapid.Float64Range(-5000, 5000).Draw(t, "P"), rapid.Float64Range(-5000, 5000).Draw(t, "Q")
				w[k] = CT{Clasps: rapid.SampledFrom([]Phases{L1, L2, L3}).Draw(t, "clasps"), Reversed: rapid.Bool().Draw(t, "reversed"),
					PhaseMinutes: rapid.Float64Range(-180, 180).Draw(t, "displacement"), GainError: rapid.Float64Range(-0.1, 0.1).Draw(t, "gain")}
			}
			voltage := func(k int) complex128 {
				s, c := math.Sincos(-2 * math.Pi / 3 * float64(k))
				return complex(230*c, 230*s)
			}
			got := w.Measure(p, q)
			for k := range w {
				c := int(w[k].Clasps - L1)
				s := complex(p[c], -q[c]) / complex(real(voltage(c)), -imag(voltage(c))) // the current, conj(S / V)
				sin, cos := math.Sincos(w[k].PhaseMinutes / 60 * math.Pi / 180)
				i := s * complex(cos, sin)
				want := real(voltage(k)*complex(real(i), -imag(i))) * (1 + w[k].GainError)
				if w[k].Reversed {
					want = -want
				}
				if math.Abs(got[k]-want) > 1e-9*10000 {
					t.Fatalf("input %d reads %v, phasors give %v", k, got[k], want)
				}
			}
		})
	})

	It("agrees with CT-07 on what a displacement does", func() {
		w := CTWiring{{Clasps: L1, PhaseMinutes: 30}, {}, {}}
		q := ReactiveAt(1000, 0.5)
		Expect(w.Measure([3]float64{1000}, [3]float64{q})[0]).To(BeNumerically("~", 1000*(1+PhaseErrorOfPower(30, 60)), 1e-9))
	})

	It("CT-25: net and per-phase registers differ (recomputed)", func() {
		Expect(MeterPhases([3]float64{2000, -500, -1000})).To(Equal(Metered{NetImportW: 500, PhaseImportW: 2000, PhaseExportW: 1500}))
		Expect(MeterPhases([3]float64{-2000, 500, 1000}).NetExportW).To(Equal(500.0))
	})

	It("CT-26: load 3000, PV 5200, charging 1500 leave 700 W of export (recomputed)", func() {
		s := pair(0.2, 0.2, 0, 0, 1, 3000)
		s.Inverters[1].RatingW = 6000 // it stands for the PV: what flows out of a device is negative, whatever makes it
		p := mustNew(s)
		p.SetMode(0, FollowSetpoint)
		p.SetMode(1, FollowSetpoint)
		p.SetSetpoint(0, 1500)
		p.SetSetpoint(1, -5200)
		run(p, 10)
		Expect(p.GridW).To(BeNumerically("~", -700, 1e-9))
	})
})

package physics

import (
	"math"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"
)

var _ = Describe("temperature and a battery", func() {
	// The figures are arbitrary.
	d := Derating{
		Charge:    Curve{{0, 0}, {15, 1}, {45, 1}, {55, 0}},
		Discharge: Curve{{-20, 0}, {0, 1}, {50, 1}, {60, 0}},
	}

	It("derates charging and discharging apart, in straight lines", func() {
		Expect(d.Check()).To(Succeed())
		for _, x := range []struct{ temp, charge, discharge float64 }{
			{-30, 0, 0}, {-10, 0, 2500}, {0, 0, 5000}, {7.5, 2000, 5000}, {25, 4000, 5000}, {50, 2000, 5000}, {55, 0, 2500}, {70, 0, 0},
		} {
			c, g := d.Limits(x.temp, 4000, 5000)
			Expect([]float64{c, g}).To(Equal([]float64{x.charge, x.discharge}), "at %g degC", x.temp)
		}
		c, g := (&Derating{}).Limits(90, 4000, 5000)
		Expect([]float64{c, g}).To(Equal([]float64{4000, 5000}))
	})

	It("refuses curves that raise the power, or are no curves", func() {
		none := Derating{Charge: Curve{}}
		Expect(none.Check()).To(MatchError("derating of charging: a curve needs at least one point"))
		bad := Derating{Discharge: Curve{{0, 1.2}}}
		Expect(bad.Check()).To(MatchError("derating of discharging: point 1 leaves 1.2 of the power; it must be between 0 and 1"))
	})

	It("warms towards ambient plus heat x resistance by the exponential, whatever the tick", func() {
		// by hand: tau = 20000 x 0.5 s, so after 10000 s 1 - 1/e of 50 K has been reached.
		for _, step := range []float64{0.1, 1, 100} {
			n := NewThermalNode(20000, 0.5, 20, step)
			for range int(10000 / step) {
				n.Step(100, 20)
			}
			Expect(n.TempC).To(BeNumerically("~", 20+50*(1-math.Exp(-1)), 1e-8))
		}
	})
})

var _ = Describe("a reported state of charge", func() {
	It("rounds, and lags", func() {
		r := NewReportedSOC(ReportParams{Resolution: 0.01, LagS: 10}, 0.5, 1)
		Expect(r.Value).To(Equal(0.5))
		for range 10 {
			r.Step(0.6)
		}
		Expect(r.Value).To(BeNumerically("~", 0.56, 1e-12)) // 0.6 - 0.1/e = 0.5632, by hand
		for range 200 {
			r.Step(0.6)
		}
		Expect(r.Value).To(BeNumerically("~", 0.6, 1e-12))
	})

	It("drifts by its gain error, and jumps when the end tells the truth", func() {
		r := NewReportedSOC(ReportParams{GainError: -0.1, RecalibrateHigh: 0.98}, 0.5, 1)
		last, jump := r.Value, 0.0
		for i := 501; i <= 1000; i++ {
			r.Step(float64(i) / 1000)
			jump = max(jump, r.Value-last)
			last = r.Value
		}
		Expect(jump).To(BeNumerically("~", 0.048, 0.0011)) // 10 % of the 48 % counted
		Expect(r.Value).To(Equal(1.0))
	})

	It("jumps when a story says so, and stays within 0 and 1", func() {
		r := NewReportedSOC(ReportParams{InitialError: 0.1}, 0.5, 1)
		Expect(r.Value).To(Equal(0.6))
		r.Recalibrate()
		Expect(r.Value).To(Equal(0.5))
		r.Jump(-0.8)
		Expect(r.Value).To(BeZero())
	})

	It("is within half a step of the true value when nothing else is wrong", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			step := rapid.SampledFrom([]float64{0.001, 0.01, 0.05}).Draw(t, "resolution")
			r := NewReportedSOC(ReportParams{Resolution: step}, 0.5, 1)
			for range 20 {
				soc := rapid.Float64Range(0, 1).Draw(t, "soc")
				r.Step(soc)
				if math.Abs(r.Value-soc) > step/2+1e-12 {
					t.Fatalf("reports %v of %v", r.Value, soc)
				}
			}
		})
	})
})

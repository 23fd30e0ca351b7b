package physics

import (
	"math"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"
)

var _ = Describe("the limits of integrating loops", func() {
	It("ST-01, ST-02: k L is at most pi/2 to settle and 1/e not to overshoot (recomputed)", func() {
		for _, l := range []float64{0.2, 1, 7} {
			Expect(ContinuousGainLimit(0, l) * l).To(BeNumerically("~", 1.570796327, 1e-9))
			Expect(ContinuousNoOvershootGain(l) * l).To(BeNumerically("~", 0.367879441, 1e-9))
		}
		re, im := ContinuousDelayRoot(math.Pi / 2)
		Expect(re).To(BeNumerically("~", 0, 1e-9))
		Expect(im).To(BeNumerically("~", 1.570796, 1e-6))
		re, im = ContinuousDelayRoot(0.367879441)
		Expect(re).To(BeNumerically("~", -1, 1e-4)) // a double root: sensitive to the square root
		Expect(im).To(BeNumerically("~", 0, 1e-4))
	})

	DescribeTable("ST-03, ST-04: the dominant root and its damping (recomputed)",
		func(kl, re, im, damping float64) {
			a, b := ContinuousDelayRoot(kl)
			Expect(a).To(BeNumerically("~", re, 1e-6))
			Expect(b).To(BeNumerically("~", im, 1e-6))
			if damping > 0 {
				Expect(DampingRatio(a, b)).To(BeNumerically("~", damping, 1e-4))
			}
		},
		Entry(nil, 0.3, -0.489402, 0.0, 0.0),
		Entry(nil, 0.5, -0.794024, 0.770112, 0.7178),
		Entry(nil, 1.0, -0.318132, 1.337236, 0.2314),
		Entry(nil, 1.5, -0.032784, 1.549644, 0.0212),
		Entry(nil, 1.6, 0.013114, 1.579101, 0.0),
		Entry(nil, 2.0, 0.172816, 1.673686, 0.0),
	)

	It("has the root -k L for a small k L", func() {
		re, im := ContinuousDelayRoot(1e-9)
		Expect(re).To(BeNumerically("~", -1e-9, 1e-15))
		Expect(im).To(BeZero())
	})

	DescribeTable("ST-05 to ST-07: the sampled limit in closed form and by root finding (recomputed)",
		func(d int, g float64, period int) {
			Expect(SampledDelayLimit(d)).To(BeNumerically("~", g, 1e-11))
			Expect(SampledLoop{Delay: d}.StabilityLimit()).To(BeNumerically("~", g, 1e-9))
			Expect(SampledMarginalPeriod(d)).To(Equal(period))
		},
		Entry("ST-05", 0, 2.000000000000, 2), Entry("ST-05", 1, 1.000000000000, 6),
		Entry("ST-05", 2, 0.618033988750, 10), Entry("ST-05", 3, 0.445041867913, 14),
		Entry("ST-05", 4, 0.347296355334, 18), Entry("ST-05", 5, 0.284629676547, 22),
		Entry("ST-06", 6, 0.241073360511, 26), Entry("ST-06", 8, 0.184536718927, 34),
		Entry("ST-06", 10, 0.149460187173, 42),
	)

	It("ST-08: the fastest gain without overshoot is d^d/(d+1)^(d+1) (recomputed)", func() {
		for d, g := range []float64{1, 0.25, 0.148148148, 0.105468750, 0.081920000, 0.066979595} {
			Expect(SampledNoOvershootGain(d)).To(BeNumerically("~", g, 1e-9))
			_, under := SampledRecovery(d, SampledNoOvershootGain(d), 0.02, 400)
			Expect(under).To(BeNumerically("<", 1e-9))
			_, under = SampledRecovery(d, 1.05*SampledNoOvershootGain(d), 0.02, 400)
			Expect(under).To(BeNumerically(">", 1e-9))
		}
	})

	It("ST-09 to ST-11: samples to stay within 2 % (recomputed)", func() {
		for d, n := range []int{1, 8, 14, 20, 25, 31} {
			got, _ := SampledRecovery(d, SampledNoOvershootGain(d), 0.02, 2000)
			Expect(got).To(Equal(n), "ST-09, d = %d", d)
		}
		under := []float64{0.250000, 0.281153, 0.285012, 0.284176, 0.285877}
		for i, n := range []int{10, 16, 28, 36, 44} {
			got, u := SampledRecovery(i+1, SampledDelayLimit(i+1)/2, 0.02, 2000)
			Expect(got).To(Equal(n), "ST-10, d = %d", i+1)
			Expect(u).To(BeNumerically("~", under[i], 1e-6))
		}
		for d, n := range []int{18, 75, 129, 181, 232, 284} {
			got, _ := SampledRecovery(d, 0.9*SampledDelayLimit(d), 0.02, 2000)
			Expect(got).To(Equal(n), "ST-11, d = %d", d)
		}
		got, _ := SampledRecovery(1, 1.05, 0.02, 2000)
		Expect(got).To(Equal(-1))
	})

	It("ST-12: the spectral radius just off the limit at d = 1 (recomputed)", func() {
		Expect(SampledLoop{Delay: 1}.SpectralRadius(0.99)).To(BeNumerically("~", 0.994987, 1e-6))
		Expect(SampledLoop{Delay: 1}.SpectralRadius(1.01)).To(BeNumerically("~", 1.004988, 1e-6))
	})

	DescribeTable("ST-16 to ST-20: limits with filters and actuators (recomputed)",
		func(loop SampledLoop, g, tolerance float64) {
			Expect(loop.StabilityLimit()).To(BeNumerically("~", g, tolerance))
		},
		Entry("ST-16", SampledLoop{MeanOver: 1}, 2.0, 1e-8),
		Entry("ST-16", SampledLoop{MeanOver: 2}, 2.0, 1e-8),
		Entry("ST-16", SampledLoop{MeanOver: 3}, 1.5, 1e-8),
		Entry("ST-16", SampledLoop{MeanOver: 4}, 1.171572875, 1e-8),
		Entry("ST-16", SampledLoop{MeanOver: 5}, 0.954915028, 1e-8),
		Entry("ST-16", SampledLoop{MeanOver: 8}, 0.608963740, 1e-8),
		Entry("ST-16", SampledLoop{MeanOver: 10}, 0.489434837, 1e-8),
		Entry("ST-17", SampledLoop{EMAAlpha: 1}, 2.0, 1e-9),
		Entry("ST-17", SampledLoop{EMAAlpha: 0.5}, 6.0, 1e-9),
		Entry("ST-17", SampledLoop{EMAAlpha: 0.25}, 14.0, 1e-9),
		Entry("ST-17", SampledLoop{EMAAlpha: 0.1}, 38.0, 1e-9),
		Entry("ST-18", SampledLoop{EMAAlpha: 0.5, Delay: 1}, 1.0, 1e-9),
		Entry("ST-18", SampledLoop{EMAAlpha: 0.1, Delay: 1}, 1.0, 1e-9),
		Entry("ST-19", SampledLoop{EMAAlpha: 0.5, Delay: 2}, 0.561552813, 1e-8),
		Entry("ST-19", SampledLoop{EMAAlpha: 0.25, Delay: 2}, 0.531128874, 1e-8),
		Entry("ST-20", SampledLoop{ActuatorS: 1, PeriodS: 1}, 1.0, 1e-8),
		Entry("ST-20", SampledLoop{ActuatorS: 0.5, PeriodS: 1, Delay: 1}, 0.603455793, 1e-8),
		Entry("ST-20", SampledLoop{ActuatorS: 1, PeriodS: 1, Delay: 1}, 0.577134592, 1e-8),
		Entry("ST-20", SampledLoop{ActuatorS: 2, PeriodS: 1, Delay: 1}, 0.548716753, 1e-8),
	)

	It("ST-21: integrator, lag and dead time (recomputed)", func() {
		Expect(ContinuousGainLimit(1, 0.5)).To(BeNumerically("~", 2.149670402, 1e-8))
		Expect(ContinuousGainLimit(0.5, 0.5)).To(BeNumerically("~", 2.269829301, 1e-8))
		Expect(ContinuousGainLimit(2, 1)).To(BeNumerically("~", 1.074835201, 1e-8))
	})

	It("ST-22: a proportional loop with one sample of delay, z^2 + k, turns at k = 1 (recomputed)", func() {
		for _, k := range []float64{0.9, 1, 1.1} {
			Expect(SpectralRadius([]float64{k, 0, 1})).To(BeNumerically("~", math.Sqrt(k), 1e-9))
		}
	})

	It("agrees with what the recursion itself does on either side of the limit", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			d := rapid.IntRange(0, 8).Draw(t, "d")
			f := rapid.Float64Range(0.1, 2).Draw(t, "share of the limit")
			if math.Abs(f-1) < 0.03 {
				return
			}
			settled, _ := SampledRecovery(d, f*SampledDelayLimit(d), 0.02, 4000)
			if (settled >= 0) != (f < 1) {
				t.Fatalf("at %g of the limit: settled %d", f, settled)
			}
		})
	})

	It("finds the largest of known roots", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			p, most := []float64{1}, 0.0
			for range rapid.IntRange(1, 6).Draw(t, "roots") {
				r := rapid.Float64Range(-3, 3).Draw(t, "root")
				p, most = multiply(p, -r, 1), max(most, math.Abs(r))
			}
			if got := SpectralRadius(p); math.Abs(got-most) > 1e-2*max(1, most) { // clustered roots are ill-conditioned
				t.Fatalf("radius %v, roots reach %v", got, most)
			}
		})
	})
})

var _ = Describe("a piecewise-linear curve", func() {
	c := Curve{{0, 1}, {1, 3}, {1, 5}, {3, 5}}

	It("is flat outside, straight inside, and takes the later value at a jump", func() {
		Expect(c.At(-1)).To(Equal(1.0))
		Expect(c.At(0.5)).To(Equal(2.0))
		Expect(c.At(1)).To(Equal(5.0))
		Expect(c.At(9)).To(Equal(5.0))
		Expect(c.SlopeAfter(0)).To(Equal(2.0))
		Expect(c.SlopeBefore(1)).To(Equal(2.0))
		Expect(c.SlopeAfter(1)).To(BeZero())
		Expect(c.SlopeBefore(0)).To(BeZero())
	})

	It("integrates exactly, over corners and jumps, either way", func() {
		Expect(c.Integral(-1, 4)).To(Equal(1.0 + 2 + 10 + 5))
		Expect(c.Integral(4, -1)).To(Equal(-18.0))
		Expect(c.Integral(0.5, 0.5)).To(BeZero())
		Expect(c.Integral(1, 2)).To(Equal(5.0))
		Expect(c.Integral(0, 1)).To(Equal(2.0))
	})

	It("says what is wrong with its points", func() {
		Expect(Curve{}.Check()).To(MatchError("a curve needs at least one point"))
		Expect(Curve{{1, 0}, {0, 0}}.Check()).To(MatchError(ContainSubstring("point 2 of the curve is at 0, before point 1 at 1")))
		Expect(Curve{{math.Inf(1), 0}}.Check()).To(MatchError(ContainSubstring("must be finite")))
		Expect(Curve{{0, math.NaN()}}.Check()).To(MatchError(ContainSubstring("must be finite")))
		Expect(c.Check()).To(Succeed())
	})
})

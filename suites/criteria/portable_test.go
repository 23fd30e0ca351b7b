package criteria_test

import (
	"math"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"

	"kilter/suites/criteria"
)

var _ = Describe("Portable functions", func() {
	It("agree with package math", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			x := rapid.Float64Range(1e-6, 700).Draw(t, "x")
			// Each of the k squarings doubles the relative error, and 2^k is less than 1 + 4 x.
			if e := criteria.Decay(x)/math.Exp(-x) - 1; math.Abs(e) > 16*0x1p-53*(1+4*x) {
				t.Fatalf("decay(%v) is off by %v", x, e)
			}
			if e := criteria.Logarithm(x) - math.Log(x); math.Abs(e) > 1e-13*(1+math.Abs(math.Log(x))) {
				t.Fatalf("logarithm(%v) is off by %v", x, e)
			}
		})
		Expect(criteria.Decay(0)).To(Equal(1.0))
	})
})

package physics

import (
	"math"
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"
)

// allocations counts the allocations of one call.
func allocations(f func()) float64 { return testing.AllocsPerRun(1, f) }

var _ = Describe("the transcendental functions of the package's own", func() {
	near := func(t *rapid.T, name string, got, want float64) {
		if math.Abs(got-want) > 1.6e-15*math.Max(1, math.Abs(want)) { // seven units in the last place of 1
			t.Fatalf("%s: %v, package math has %v", name, got, want)
		}
	}

	It("agree with package math over the range that the plant uses", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			x := rapid.Float64Range(-30, 30).Draw(t, "x")
			near(t, "exp", exp(x)/math.Exp(x), 1)
			near(t, "log", log(math.Abs(x)+1e-9), math.Log(math.Abs(x)+1e-9))
			s, c := sincos(x)
			near(t, "sin", s, math.Sin(x))
			near(t, "cos", c, math.Cos(x))
			near(t, "atan", atan(x), math.Atan(x))
			y := rapid.Float64Range(-30, 30).Draw(t, "y")
			// The origin has no angle; package math gives it one by the signs of its zeros.
			if got, want := atan2Deg(y, x), math.Atan2(y, x)*180/math.Pi; (x != 0 || y != 0) && math.Abs(got-want) > 1e-13*180 {
				t.Fatalf("atan2(%v, %v): %v, package math has %v", y, x, got, want)
			}
			u := rapid.Float64Range(-1, 1).Draw(t, "u")
			if got, want := asinDeg(u), math.Asin(u)*180/math.Pi; math.Abs(got-want) > 1e-12 {
				t.Fatalf("asin(%v): %v, package math has %v", u, got, want)
			}
		})
	})

	It("know their ends", func() {
		Expect(exp(800)).To(Equal(math.Inf(1)))
		Expect(exp(-800)).To(BeZero())
		Expect(log(0)).To(Equal(math.Inf(-1)))
		Expect(math.IsNaN(log(-1))).To(BeTrue())
		Expect(atan2Deg(0, -1)).To(Equal(180.0))
		Expect(atan2Deg(1, 0)).To(Equal(90.0))
		Expect(pow(0, 2)).To(BeZero())
	})
})

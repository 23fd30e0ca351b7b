package physics

import (
	"math"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

var _ = Describe("a component's stream of random numbers", func() {
	It("has the moments and tails of a normal distribution", func() {
		s := newStream(1, "test")
		const n = 1_000_000
		var m [5]float64
		beyond := [5]int{}
		for range n {
			x := s.normal()
			for k, p := 1, x; k < 5; k, p = k+1, p*x {
				m[k] += p / n
			}
			for k := 1; k < 5; k++ {
				if math.Abs(x) > float64(k) {
					beyond[k]++
				}
			}
		}
		// Six standard errors of each moment: 1, sqrt(2), sqrt(15), sqrt(96) over sqrt(n).
		Expect(m[1]).To(BeNumerically("~", 0, 6e-3))
		Expect(m[2]).To(BeNumerically("~", 1, 8.5e-3))
		Expect(m[3]).To(BeNumerically("~", 0, 2.4e-2))
		Expect(m[4]).To(BeNumerically("~", 3, 6e-2))
		for k, want := range map[int]float64{1: 0.317311, 2: 0.045500, 3: 0.0026998, 4: 0.00006334} {
			Expect(float64(beyond[k])/n).To(BeNumerically("~", want, 6*math.Sqrt(want/n)), "beyond %d", k)
		}
	})

	It("is another for another name, and for another seed, without correlation", func() {
		correlate := func(a, b stream) float64 {
			sum := 0.0
			for range 100_000 {
				sum += a.normal() * b.normal()
			}
			return sum / 100_000
		}
		for seed := range uint64(20) {
			Expect(correlate(newStream(seed, "meter/one"), newStream(seed, "meter/two"))).To(BeNumerically("~", 0, 0.02))
			Expect(correlate(newStream(seed, "meter/one"), newStream(seed+1, "meter/one"))).To(BeNumerically("~", 0, 0.02))
		}
	})
})

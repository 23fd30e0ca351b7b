package physics

import (
	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

var _ = Describe("a cloud of the story", func() {
	// at returns the sky's factor at a second after the action.
	at := func(c PassCloud) func(second float64) float64 {
		return func(second float64) float64 {
			s := sky{factor: 1}
			s.pass(0, c)
			s.step(int64(second * 1000))
			return s.factor
		}
	}

	It("takes its depth away, along straight edges, and is gone after its time", func() {
		factor := at(PassCloud{Depth: 0.8, EdgeS: 4, LastsS: 20})
		for second, wanted := range map[float64]float64{
			0: 1, 1: 0.8, 2: 0.6, 4: 0.2, 10: 0.2, 16: 0.2, 18: 0.6, 19: 0.8, 20: 1, 21: 1, 100: 1,
		} {
			Expect(factor(second)).To(BeNumerically("~", wanted, 1e-12), "at %v s", second)
		}
	})

	It("brightens the ground for one edge's time before and after it", func() {
		factor := at(PassCloud{Depth: 0.8, EdgeS: 4, LastsS: 20, Enhancement: 0.3})
		for second, wanted := range map[float64]float64{
			0: 1, 2: 1.15, 4: 1.3, 8: 0.2, 14: 0.2, 20: 0.2, 24: 1.3, 26: 1.15, 28: 1, 40: 1,
		} {
			Expect(factor(second)).To(BeNumerically("~", wanted, 1e-12), "at %v s", second)
		}
	})

	It("leaves two clouds no darker than the darker one, and one in another's bright edge as dark as both say", func() {
		s := sky{factor: 1}
		s.pass(0, PassCloud{Depth: 0.5, EdgeS: 1, LastsS: 20})
		s.pass(0, PassCloud{Depth: 0.8, EdgeS: 1, LastsS: 20})
		s.step(10_000)
		Expect(s.factor).To(BeNumerically("~", 0.2, 1e-12))

		s = sky{factor: 1}
		s.pass(0, PassCloud{Depth: 0.5, EdgeS: 1, LastsS: 20})
		s.pass(6_000, PassCloud{Depth: 0.5, EdgeS: 4, LastsS: 20, Enhancement: 0.2})
		s.step(10_000)
		Expect(s.factor).To(BeNumerically("~", 0.5*1.2, 1e-12))
	})

	It("shades all arrays of the plant alike", func() {
		site := bakery()
		site.Sky.StartUnixS += 11 * 3600
		shed := site.Arrays[0]
		shed.Name, shed.PeakW, shed.RatingW = "shed", 3000, 3000
		site.Arrays = append(site.Arrays, shed)
		p := mustNew(site)
		run(p, 1)
		roof, small := p.Arrays[0].PowerW, p.Arrays[1].PowerW
		p.Apply(PassCloud{Depth: 0.6, EdgeS: 2, LastsS: 60})
		run(p, 10)
		Expect(p.SkyFactor()).To(BeNumerically("~", 0.4, 1e-12))
		Expect(p.Arrays[0].PowerW / roof).To(BeNumerically("~", 0.4, 0.001))
		Expect(p.Arrays[1].PowerW / small).To(BeNumerically("~", 0.4, 0.001))
	})
})

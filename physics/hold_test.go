package physics

import (
	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

var _ = Describe("holding what is given", func() {
	// finest has loads of every kind, clouds, PV of every kind and a charger, all of them on the move.
	It("stops loads and sky as they are, and nothing that responds, with the books in balance", func() {
		p, err := New(finest())
		Expect(err).NotTo(HaveOccurred())
		p.Apply(BrokenClouds{On: true, MeanGapS: 20, MeanLastS: 10, MinDepth: 0.3, MaxDepth: 0.8, EdgeS: 2})
		for i := range p.Loads {
			p.Apply(SwitchLoad{Load: i, On: true})
		}
		for range 4000 {
			p.Step()
		}
		p.Apply(HoldGiven{})
		p.Step()
		load := func() (w float64) {
			for i := range p.Loads {
				w += p.Loads[i].PowerW
			}
			return w
		}
		dc := func() (w float64) {
			for i := range p.Arrays {
				w += p.Arrays[i].DCW
			}
			return w
		}
		held, sun, energy := load(), dc(), p.Loads[0].Energy.Wh()
		Expect(held).To(BeNumerically(">", 0))
		for range 6000 {
			p.Step()
			Expect(load()).To(Equal(held))
			Expect(dc()).To(Equal(sun))
		}
		Expect(p.Loads[0].Energy.Wh()).To(BeNumerically(">=", energy))
		audit := p.Audit()
		Expect(audit.Ok()).To(BeTrue())
	})
})

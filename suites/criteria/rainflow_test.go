package criteria_test

import (
	"math"
	"slices"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"

	"kilter/suites/criteria"
)

var (
	astm   = []float64{-2, 1, -3, 5, -1, 3, -4, 4, -2}
	longer = []float64{-1.5, 1, -3, 10, -1, 3, -8, 4, -2, 6, -1, -4, -8, 2, 1, -5, 0, 2.5, -4, 1, 0, 2, -0.5}
)

// Values: check-values RF-01 to RF-08. RF-01 is ASTM E1049-85 clause 5.4.4, figure
// 6; RF-01 to RF-06 are published in the tests of the Python package rainflow,
// RF-07 is an identity, RF-08 was worked out by the same rules.
var _ = Describe("The rainflow count of wear", func() {
	totals := func(series []float64) map[float64]float64 {
		sums := map[float64]float64{}
		cycles, _, _ := criteria.CountCycles(series)
		for _, c := range cycles {
			sums[c.Range] += c.Count
		}
		return sums
	}

	It("finds the cycles of the standard's figure (RF-01)", func() {
		cycles, _, _ := criteria.CountCycles(astm)
		Expect(cycles).To(Equal([]criteria.Cycle{
			{3, -0.5, 0.5}, {4, -1, 0.5}, {4, 1, 1}, {8, 1, 0.5}, {9, 0.5, 0.5}, {8, 0, 0.5}, {6, 1, 0.5},
		}))
	})
	It("adds them up by range (RF-02, RF-03)", func() {
		Expect(totals(astm)).To(Equal(map[float64]float64{3: 0.5, 4: 1.5, 6: 0.5, 8: 1, 9: 0.5}))
		Expect(totals(longer)).To(Equal(map[float64]float64{
			1: 1, 2.5: 1, 4: 1.5, 6: 1.5, 6.5: 0.5, 7: 1, 10.5: 0.5, 13: 0.5, 14: 1, 18: 0.5,
		}))
	})
	It("lists 15 cycles in two sines, the largest as a half (RF-04)", func() {
		var x []float64
		for i := range 1001 {
			t := float64(i)
			x = append(x, 0.8*math.Sin(0.01*math.Pi*t)+0.2*math.Sin(0.032*math.Pi*t))
		}
		cycles, _, _ := criteria.CountCycles(x)
		largest := criteria.Cycle{}
		for _, c := range cycles {
			if c.Range > largest.Range {
				largest = c
			}
		}
		Expect(cycles).To(HaveLen(15)) // whole and half ones
		Expect(largest.Range).To(BeNumerically("~", 1.9942872896932382, 1e-9))
		Expect(largest.Range).To(Equal(math.Abs(x[548] - x[452])))
		Expect(largest.Count).To(Equal(0.5))
	})
	It("counts nothing in fewer than three samples (RF-05)", func() {
		Expect(totals(nil)).To(BeEmpty())
		Expect(totals([]float64{1})).To(BeEmpty())
		Expect(totals([]float64{1, 2})).To(BeEmpty())
		cycles, _, _ := criteria.CountCycles([]float64{1, 2, 3})
		Expect(cycles).To(Equal([]criteria.Cycle{{2, 2, 0.5}}))
	})
	It("does not mind repeated samples (RF-06)", func() {
		var doubled []float64
		for _, v := range astm {
			doubled = append(doubled, v, v)
		}
		want, _, _ := criteria.CountCycles(astm)
		got, _, _ := criteria.CountCycles(doubled)
		Expect(got).To(Equal(want))
	})
	It("accounts for the whole variation of any series (RF-07)", func() {
		for want, series := range map[float64][]float64{46: astm, 127: longer} {
			_, sum, _ := criteria.CountCycles(series)
			Expect(2 * sum).To(Equal(want))
		}
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			x := rapid.SliceOfN(rapid.Float64Range(0, 1), 3, 400).Draw(t, "series")
			variation := 0.0
			for i := range x[1:] {
				variation += math.Abs(x[i+1] - x[i])
			}
			if _, sum, _ := criteria.CountCycles(x); math.Abs(2*sum-variation) > 1e-9 {
				t.Fatalf("got %v, want %v", 2*sum, variation)
			}
		})
	})
	It("finds 1.4 equivalent full cycles in a series of states of charge (RF-08)", func() {
		cycles, sum, _ := criteria.CountCycles([]float64{0.5, 0.9, 0.4, 0.6, 0.3, 0.8, 0.2, 0.5})
		Expect(sum).To(BeNumerically("~", 1.4, 1e-12))
		slices.SortFunc(cycles, func(a, b criteria.Cycle) int { return int(math.Copysign(1, a.Range-b.Range)) })
		want := []criteria.Cycle{{0.2, 0.5, 1}, {0.3, 0.35, 0.5}, {0.4, 0.7, 0.5}, {0.5, 0.55, 1}, {0.7, 0.55, 0.5}}
		Expect(cycles).To(HaveLen(len(want)))
		for i, c := range cycles {
			Expect(c.Range).To(BeNumerically("~", want[i].Range, 1e-12))
			Expect(c.Mean).To(BeNumerically("~", want[i].Mean, 1e-12))
			Expect(c.Count).To(Equal(want[i].Count))
		}
	})
	It("keeps a bounded number of turning points, and their variation", func() {
		var shrinking []float64
		variation := 0.0
		for i := range 500 {
			shrinking = append(shrinking, math.Pow(-0.99, float64(i)))
			if i > 0 {
				variation += math.Abs(shrinking[i] - shrinking[i-1])
			}
		}
		_, sum, kept := criteria.CountCycles(shrinking)
		Expect(kept).To(Equal(64))
		Expect(2 * sum).To(BeNumerically("~", variation, 1e-9))
	})
})

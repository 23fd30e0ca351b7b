package physics

import (
	"math"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"
)

var _ = Describe("rainflow counting", func() {
	figure6 := []float64{-2, 1, -3, 5, -1, 3, -4, 4, -2}
	longer := []float64{-1.5, 1, -3, 10, -1, 3, -8, 4, -2, 6, -1, -4, -8, 2, 1, -5, 0, 2.5, -4, 1, 0, 2, -0.5}
	totals := func(cycles []Cycle) map[float64]float64 {
		sums := map[float64]float64{}
		for _, c := range cycles {
			sums[c.Range] += c.Count
		}
		return sums
	}
	triples := func(cycles []Cycle) (out [][3]float64) {
		for _, c := range cycles {
			out = append(out, [3]float64{c.Range, c.Mean, c.Count})
		}
		return out
	}
	variation := func(series []float64) float64 {
		sum := 0.0
		for i := 1; i < len(series); i++ {
			sum += math.Abs(series[i] - series[i-1])
		}
		return sum
	}
	twice := func(cycles []Cycle) float64 {
		sum := 0.0
		for _, c := range cycles {
			sum += 2 * c.Range * c.Count
		}
		return sum
	}

	// Published: ASTM E1049-85 (2011) clause 5.4.4, figure 6; iamlikeme/rainflow tests/test_rainflow.py.
	It("RF-01, RF-02: counts the standard's example", func() {
		Expect(triples(CountCycles(figure6))).To(Equal([][3]float64{
			{3, -0.5, 0.5}, {4, -1, 0.5}, {4, 1, 1}, {8, 1, 0.5}, {9, 0.5, 0.5}, {8, 0, 0.5}, {6, 1, 0.5}}))
		Expect(totals(CountCycles(figure6))).To(Equal(map[float64]float64{3: 0.5, 4: 1.5, 6: 0.5, 8: 1, 9: 0.5}))
	})

	It("RF-03: counts a longer series (published, the same tests)", func() {
		Expect(totals(CountCycles(longer))).To(Equal(map[float64]float64{
			1: 1, 2.5: 1, 4: 1.5, 6: 1.5, 6.5: 0.5, 7: 1, 10.5: 0.5, 13: 0.5, 14: 1, 18: 0.5}))
	})

	It("RF-04: counts two sines (published, the same tests)", func() {
		series := make([]float64, 1001)
		for i := range series {
			series[i] = 0.8*math.Sin(0.01*math.Pi*float64(i)) + 0.2*math.Sin(0.032*math.Pi*float64(i))
		}
		cycles := CountCycles(series)
		Expect(cycles).To(HaveLen(15))
		largest := cycles[0]
		for _, c := range cycles {
			if c.Range > largest.Range {
				largest = c
			}
		}
		Expect(largest.Range).To(BeNumerically("~", 1.9942872896932382, 1e-9))
		Expect(largest.Count).To(Equal(0.5))
		Expect([]int64{largest.From, largest.To}).To(Equal([]int64{452, 548}))
	})

	It("RF-05: finds nothing in fewer than three samples (published, the same tests)", func() {
		for _, series := range [][]float64{{}, {1}, {1, 2}} {
			Expect(CountCycles(series)).To(BeEmpty())
		}
		Expect(triples(CountCycles([]float64{1, 2, 3}))).To(Equal([][3]float64{{2, 2, 0.5}}))
	})

	It("RF-06: does not mind repeated samples (published, the same tests)", func() {
		var doubled []float64
		for _, v := range figure6 {
			doubled = append(doubled, v, v)
		}
		Expect(triples(CountCycles(doubled))).To(Equal(triples(CountCycles(figure6))))
	})

	It("RF-07: twice the sum of range x count is 46 and 127 (recomputed)", func() {
		Expect(twice(CountCycles(figure6))).To(Equal(46.0))
		Expect(twice(CountCycles(longer))).To(Equal(127.0))
	})

	It("RF-08: a state-of-charge series has 1.4 equivalent full cycles (recomputed)", func() {
		series := []float64{0.5, 0.9, 0.4, 0.6, 0.3, 0.8, 0.2, 0.5}
		want := [][3]float64{{0.4, 0.7, 0.5}, {0.2, 0.5, 1}, {0.5, 0.55, 1}, {0.7, 0.55, 0.5}, {0.3, 0.35, 0.5}}
		for i, c := range triples(CountCycles(series)) {
			for k := range c {
				Expect(c[k]).To(BeNumerically("~", want[i][k], 1e-12))
			}
		}
		r := NewRainflow(64, nil)
		for _, v := range series {
			r.Add(v)
		}
		Expect(r.Equivalent()).To(BeNumerically("~", 1.4, 1e-12)) // open ranges included
		r.End()
		Expect(r.Equivalent()).To(BeNumerically("~", 1.4, 1e-12))
	})

	It("keeps the invariant of RF-07 on any series, however few points it may keep", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			series := rapid.SliceOfN(rapid.Map(rapid.IntRange(-20, 20), func(i int) float64 { return float64(i) }), 3, 80).Draw(t, "series")
			var cycles []Cycle
			r := NewRainflow(rapid.IntRange(3, 8).Draw(t, "depth"), func(c Cycle) { cycles = append(cycles, c) })
			for _, v := range series {
				r.Add(v)
			}
			open := r.Equivalent()
			r.End()
			if v := variation(series); twice(cycles) != v || 2*open != v || twice(CountCycles(series)) != v {
				t.Fatalf("total variation %v, cycles %v, open %v", v, twice(cycles), 2*open)
			}
		})
	})

	It("leaves out what is no number, and begins anew after the end of a record", func() {
		r := NewRainflow(8, nil)
		for range 2 {
			for _, v := range []float64{0, math.NaN(), 1, 0} {
				r.Add(v)
			}
			r.End()
		}
		Expect(r.Equivalent()).To(Equal(2.0))
	})

	It("counts the same as the batch as long as its depth suffices, and allocates nothing", func() {
		var cycles []Cycle
		r := NewRainflow(len(longer)/2, func(c Cycle) { cycles = append(cycles, c) })
		for _, v := range longer {
			r.Add(v)
		}
		r.End()
		Expect(cycles).To(Equal(CountCycles(longer)))
		quiet := NewRainflow(16, nil)
		Expect(allocations(func() {
			for i := range 1000 {
				quiet.Add(float64(i * 7 % 13))
			}
		})).To(BeZero())
	})
})

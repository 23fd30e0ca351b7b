package compare

import (
	"math"
	"math/bits"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"
)

// midRanks gives the ranks of values, ties sharing theirs, by counting.
func midRanks(values []float64) []float64 {
	ranks := make([]float64, len(values))
	for i, v := range values {
		for _, w := range values {
			switch {
			case w < v:
				ranks[i]++
			case w == v:
				ranks[i] += 0.5
			}
		}
		ranks[i] += 0.5
	}
	return ranks
}

// enumerate is the two-sided p-value of a sum of ranks among all subsets that count, by going through them.
func enumerate(ranks []float64, seen uint, counts func(uint) bool) float64 {
	sum := func(set uint) (s float64) {
		for i, r := range ranks {
			if set>>i&1 == 1 {
				s += r
			}
		}
		return s
	}
	low, high, all := 0, 0, 0
	for set := range uint(1) << len(ranks) {
		if !counts(set) {
			continue
		}
		all++
		if sum(set) <= sum(seen)+1e-9 {
			low++
		}
		if sum(set) >= sum(seen)-1e-9 {
			high++
		}
	}
	return min(1, 2*float64(min(low, high))/float64(all))
}

var _ = Describe("the signed-rank test", func() {
	It("agrees with the tabulated critical values", func() {
		// Wilcoxon 1945, table II, and every later table: with ten pairs a lesser rank sum of 8 is at 5 % two-sided,
		// and 9 is not; with six pairs only 0 is.
		lesser := func(pairs, sum int) []float64 {
			d := make([]float64, pairs)
			for i := pairs; i >= 1; i-- {
				d[i-1] = float64(i)
				if i <= sum {
					d[i-1], sum = -d[i-1], sum-i
				}
			}
			return d
		}
		Expect(signedRank(lesser(10, 8))).To(BeNumerically("~", 0.0488, 0.00005))
		Expect(signedRank(lesser(10, 9))).To(BeNumerically("~", 0.0645, 0.00005))
		Expect(signedRank(lesser(6, 0))).To(BeNumerically("~", 0.03125, 1e-12))
		Expect(signedRank(lesser(6, 1))).To(BeNumerically("~", 0.0625, 1e-12))
	})

	It("is what all assignments of signs come to, ties and all", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			d := rapid.SliceOfN(rapid.IntRange(-6, 6), 1, 11).Draw(t, "differences")
			var values, sizes []float64
			seen := uint(0)
			for _, x := range d {
				if values = append(values, float64(x)); x == 0 {
					continue
				}
				if x > 0 {
					seen |= 1 << len(sizes)
				}
				sizes = append(sizes, math.Abs(float64(x)))
			}
			want := 1.0
			if len(sizes) > 0 {
				want = enumerate(midRanks(sizes), seen, func(uint) bool { return true })
			}
			if got := signedRank(values); math.Abs(got-want) > 1e-12 {
				t.Fatalf("%v: %g, by enumeration %g", d, got, want)
			}
		})
	})

	It("has a normal tail for many pairs that is within a hundredth of the exact one", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			var sizes []float64
			for _, x := range rapid.SliceOfN(rapid.IntRange(1, 1000), exactPairs, exactPairs).Draw(t, "sizes") {
				sizes = append(sizes, float64(x))
			}
			ranks := doubledRanks(sizes)
			up := 0
			for _, r := range ranks {
				if rapid.IntRange(0, 99).Draw(t, "sign") < 60 {
					up += r
				}
			}
			if exact, normal := pairsExact(ranks, up), pairsNormal(ranks, up); math.Abs(exact-normal) > 0.01 {
				t.Fatalf("exact %g, normal %g", exact, normal)
			}
		})
	})
})

var _ = Describe("the rank-sum test", func() {
	It("agrees with the tabulated critical values", func() {
		// Mann and Whitney 1947, and every later table: for five and five, U = 2 is at 5 % two-sided, 3 is not.
		Expect(rankSum([]float64{1, 2, 3, 4, 7}, []float64{5, 6, 8, 9, 10})).To(BeNumerically("~", 0.0317, 0.0001)) // U = 2
		Expect(rankSum([]float64{1, 2, 3, 4, 8}, []float64{5, 6, 7, 9, 10})).To(BeNumerically("~", 0.0556, 0.0001)) // U = 3
	})

	It("is what all choices of runs come to, ties and all", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			draw := func(name string) (list []float64) {
				for _, x := range rapid.SliceOfN(rapid.IntRange(0, 6), 1, 6).Draw(t, name) {
					list = append(list, float64(x))
				}
				return list
			}
			a, b := draw("a"), draw("b")
			all := append(append([]float64{}, a...), b...)
			want := enumerate(midRanks(all), 1<<len(a)-1, func(set uint) bool { return bits.OnesCount(set) == len(a) })
			if got := rankSum(a, b); math.Abs(got-want) > 1e-12 {
				t.Fatalf("%v %v: %g, by enumeration %g", a, b, got, want)
			}
		})
	})

	It("has a normal tail for many runs that is within a hundredth of the exact one", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			var values []float64
			for i, x := range rapid.SliceOfN(rapid.IntRange(0, 1000), exactRuns, exactRuns).Draw(t, "values") {
				if i < exactRuns/2 {
					x += 200
				}
				values = append(values, float64(x))
			}
			ranks := doubledRanks(values)
			sum := 0
			for _, r := range ranks[:exactRuns/2] {
				sum += r
			}
			if exact, normal := runsExact(ranks, exactRuns/2, sum), runsNormal(ranks, exactRuns/2, sum); math.Abs(exact-normal) > 0.01 {
				t.Fatalf("exact %g, normal %g", exact, normal)
			}
		})
	})
})

var _ = Describe("counts of failures", func() {
	It("have the published p-values", func() {
		// R. A. Fisher, The Design of Experiments, 1935: the lady who tells three of four cups, 16 + 1 of 70 either way.
		Expect(fisher(3, 4, 1, 4)).To(BeNumerically("~", 34.0/70, 1e-12))
		Expect(fisher(4, 4, 0, 4)).To(BeNumerically("~", 2.0/70, 1e-12))
		Expect(fisher(0, 20, 0, 20)).To(Equal(1.0))
		// By hand: one of eight coins, 2 (1 + 8) / 256.
		Expect(signTest(1, 7)).To(BeNumerically("~", 18.0/256, 1e-12))
		Expect(signTest(0, 6)).To(BeNumerically("~", 2.0/64, 1e-12))
		Expect(signTest(4, 4)).To(Equal(1.0))
	})

	It("tell how many pairs a level needs", func() {
		Expect(pairsFor(0.05)).To(Equal(6), "2 / 2^6 = 0.031")
		Expect(leastP(6, 0, 0)).To(BeNumerically("<=", 0.05))
		Expect(leastP(5, 0, 0)).To(BeNumerically(">", 0.05))
		Expect(leastP(0, 5, 5)).To(BeNumerically("~", 2.0/252, 1e-12))
	})

	It("hold a level for all tests together, step by step", func() {
		// Holm 1979: 0.01 <= 0.05/4 and 0.016 <= 0.05/3, but 0.03 > 0.05/2.
		Expect(holm([]float64{0.03, 0.01, 0.016, 0.5}, 0.05)).To(Equal(0.016))
		Expect(holm([]float64{0.02, 0.03, 0.04}, 0.05)).To(BeNumerically("<", 0))
		Expect(holm(nil, 0.05)).To(BeNumerically("<", 0))
	})
})

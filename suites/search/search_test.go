package search_test

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"slices"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"gonum.org/v1/gonum/optimize/functions"
	"pgregory.net/rapid"

	"kilter/suites/search"
)

// each works a batch out point by point.
func each(f func(x []float64) float64) search.Evaluate {
	return func(_ context.Context, batch [][]float64) ([]float64, error) {
		margins := make([]float64, len(batch))
		for i, x := range batch {
			for _, v := range x {
				Expect(v).To(And(BeNumerically(">=", 0), BeNumerically("<=", 1)))
			}
			margins[i] = f(x)
		}
		return margins, nil
	}
}

// corner is negative only within a tenth of a point near a corner, and leads there.
func corner(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += (v - 0.93) * (v - 0.93)
	}
	return math.Sqrt(sum) - 0.1
}

var _ = Describe("a search", func() {
	ctx := context.Background()
	median := func(find func(context.Context, search.Evaluate, search.Options) (search.Result, error), f func([]float64) float64, dim int) int {
		GinkgoHelper()
		var runs []int
		for seed := range uint64(15) {
			r, err := find(ctx, each(f), search.Options{Dim: dim, Budget: 4000, Seed: seed})
			Expect(err).NotTo(HaveOccurred())
			n := 4000
			if r.Found != nil {
				n = r.Found.Run
				Expect(f(r.Found.X)).To(And(BeNumerically("<", 0), Equal(r.Found.Margin)))
			}
			runs = append(runs, n)
		}
		slices.Sort(runs)
		return runs[len(runs)/2]
	}

	It("finds what is rare in fewer runs than chance", func() {
		Expect(median(search.Adaptive, corner, 5)).To(BeNumerically("<", 400))
		Expect(median(search.Random, corner, 5)).To(Equal(4000), "a ball of a tenth fills 5e-5 of five dimensions")
	})

	// Rosenbrock's valley is from gonum's own collection of test functions.
	It("follows a curved valley", func() {
		valley := func(x []float64) float64 {
			wide := make([]float64, len(x))
			for i, v := range x {
				wide[i] = 4*v - 2
			}
			return functions.ExtendedRosenbrock{}.Func(wide) - 0.05
		}
		Expect(median(search.Adaptive, valley, 4)).To(BeNumerically("<", 1500))
	})

	It("looks first where much is extreme at once", func() {
		// Fails only where three of eight are within a twentieth of their ends: one even draw in a thousand.
		edges := func(x []float64) float64 { return max(0.95-x[1], x[4]-0.05, 0.95-x[6]) }
		Expect(median(search.Adaptive, edges, 8)).To(BeNumerically("<", 100))
		Expect(median(search.Random, edges, 8)).To(BeNumerically(">", 500))
	})

	It("tries the same points for the same seed, and others for another", func() {
		points := func(seed uint64) (all [][]float64) {
			_, err := search.Adaptive(ctx, func(c context.Context, batch [][]float64) ([]float64, error) {
				all = append(all, batch...)
				return each(func(x []float64) float64 { return 1 + corner(x) })(c, batch)
			}, search.Options{Dim: 3, Budget: 700, Seed: seed})
			Expect(err).NotTo(HaveOccurred())
			return all
		}
		first := points(1)
		Expect(first).To(HaveLen(700))
		Expect(points(1)).To(Equal(first))
		Expect(points(2)).NotTo(Equal(first))
	})

	It("spends its budget and no more, and begins anew when it has come to rest", func() {
		r, err := search.Adaptive(ctx, each(func(x []float64) float64 { return 0.5 + corner(x) }), search.Options{Dim: 2, Budget: 3000})
		Expect(err).NotTo(HaveOccurred())
		Expect(r.Runs).To(Equal(3000))
		Expect(r.Found).To(BeNil())
		Expect(r.Restarts).To(BeNumerically(">", 2))
		Expect(r.Best.Margin).To(BeNumerically("~", 0.4, 1e-3))
	})

	It("keeps away from what cannot be judged", func() {
		half := func(x []float64) float64 {
			if x[0] < 0.5 {
				return math.NaN()
			}
			return corner(x)
		}
		Expect(median(search.Adaptive, half, 3)).To(BeNumerically("<", 300))
		r, err := search.Random(ctx, each(func([]float64) float64 { return math.NaN() }), search.Options{Dim: 1, Budget: 50})
		Expect(err).NotTo(HaveOccurred())
		Expect(r.Best.Run).To(BeZero())
	})

	It("begins where it is told to", func() {
		r, err := search.Adaptive(ctx, each(corner), search.Options{Dim: 2, Budget: 100, Begin: []float64{0.93, 0.93}})
		Expect(err).NotTo(HaveOccurred())
		Expect(r.Found.Run).To(Equal(1))
	})

	It("ends with the error of what it evaluates, and refuses what makes no sense", func() {
		broken := errors.New("the bench is broken")
		_, err := search.Adaptive(ctx, func(context.Context, [][]float64) ([]float64, error) { return nil, broken }, search.Options{Dim: 2, Budget: 10})
		Expect(err).To(MatchError(broken))
		for _, opt := range []search.Options{{Dim: 0, Budget: 1}, {Dim: 1, Budget: 0}, {Dim: 2, Budget: 1, Begin: []float64{1}}} {
			_, err := search.Random(ctx, each(corner), opt)
			Expect(err).To(HaveOccurred())
		}
	})
})

var _ = Describe("shrinking", func() {
	It("brings what does not matter to its plain value, and the rest as near to it as it goes", func() {
		// Fails where the first and the third are large; the others do not matter.
		f := each(func(x []float64) float64 { return 1.2 - x[0] - x[2] })
		got, runs, err := search.Shrink(context.Background(), f, []float64{0.9, 0.2, 0.8, 1}, []float64{0, 0, 0, 0.5}, 200)
		Expect(err).NotTo(HaveOccurred())
		Expect(got.Margin).To(And(BeNumerically("<", 0), BeNumerically(">", -0.1)))
		Expect(got.X[1]).To(BeZero())
		Expect(got.X[3]).To(Equal(0.5))
		Expect(runs).To(BeNumerically("<", 40))
	})

	It("never turns a counterexample into none", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			weights := rapid.SliceOfN(rapid.Float64Range(-1, 1), 4, 4).Draw(t, "weights")
			f := func(x []float64) float64 {
				sum := 0.3
				for i, w := range weights {
					sum += w * x[i]
				}
				return sum
			}
			x := rapid.SliceOfN(rapid.Float64Range(0, 1), 4, 4).Draw(t, "x")
			if f(x) >= 0 {
				return
			}
			got, _, err := search.Shrink(context.Background(), each(f), x, make([]float64, 4), rapid.IntRange(0, 60).Draw(t, "budget"))
			if err != nil || f(got.X) >= 0 {
				t.Fatalf("%v: %v of margin %g", err, got.X, f(got.X))
			}
		})
	})
})

var _ = Describe("a Latin hypercube", func() {
	It("has each coordinate once in each cell", func() {
		points := search.LatinHypercube(rand.New(rand.NewPCG(1, 2)), 20, 3)
		for k := range 3 {
			var cells []int
			for _, x := range points {
				cells = append(cells, int(x[k]*20))
			}
			slices.Sort(cells)
			for i, c := range cells {
				Expect(c).To(Equal(i))
			}
		}
	})
})

package compare

import (
	"fmt"
	"math/rand/v2"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/suites/verdict"
)

// side is a verdict whose runs of one scenario have these margins of import, in W at a limit of 18 kW, from seed first on.
// A negative one has failed; NaN was not exercised.
func side(first uint64, margins ...float64) verdict.Verdict {
	var runs []verdict.Run
	for i, m := range margins {
		c := verdict.Criterion{Name: "import", Status: verdict.Passed, Exercised: 1, Unit: "W", Bound: verdict.AtMost,
			Margin: verdict.Of(m), Observed: verdict.Of(18000 - m), Limit: verdict.Of(18000)}
		switch {
		case m != m:
			c = verdict.Criterion{Name: "import", Status: verdict.NotExercised, Unit: "W"}
		case m < 0:
			c.Status = verdict.Failed
		}
		runs = append(runs, verdict.Run{Scenario: "ev-start", Seed: first + uint64(i),
			TraceSHA256: fmt.Sprint(first+uint64(i), m), Criteria: []verdict.Criterion{c}})
	}
	return verdict.New(runs...)
}

// ofSeeds are margins around a middle, as chance would have them.
func ofSeeds(n int, middle, spread float64, stream uint64) []float64 {
	r := rand.New(rand.NewPCG(11, stream))
	list := make([]float64, n)
	for i := range list {
		list[i] = middle + spread*r.NormFloat64()
	}
	return list
}

// changed compares the one criterion of two sides.
func changed(a, b verdict.Verdict) (Change, Comparison) {
	GinkgoHelper()
	c, err := Compare(a, b, Options{Tolerance: 0.01, Level: 0.05}) // the tolerance is 180 W
	Expect(err).NotTo(HaveOccurred())
	Expect(c.Scenarios).To(HaveLen(1))
	Expect(c.Scenarios[0].Changes).To(HaveLen(1))
	change := c.Scenarios[0].Changes[0]
	Expect(c.Worse).To(Equal(change.Judgement == Worse))
	return change, c
}

var _ = Describe("with one seed", func() {
	DescribeTable("a change is", func(before, after float64, want Judgement, why string) {
		x, c := changed(side(7, before), side(7, after))
		Expect(x.Judgement).To(Equal(want))
		Expect(x.Why).To(Equal(why))
		Expect(x.P.Known()).To(BeFalse())
		if before != after {
			Expect(c.Remarks).To(ConsistOf(ContainSubstring("With one seed the differences are exact, and cannot be told from chance")))
		}
	},
		Entry("none", 500.0, 500.0, Same, "the margin is the same"),
		Entry("within the tolerance", 500.0, 350.0, Same, "the margin moved by -150 W, within the tolerance"),
		Entry("a margin lost", 500.0, 300.0, Worse, "the margin moved by -200 W, on one seed"),
		Entry("a margin won", 500.0, 700.0, Better, "the margin moved by +200 W, on one seed"),
		Entry("a verdict lost, however close", 5.0, -5.0, Worse, "held, and fails on seed 7"),
		Entry("a verdict won", -5.0, 5.0, Better, "failed on seed 7, and holds"),
	)

	It("says where all is the same bit for bit", func() {
		_, c := changed(side(7, 500), side(7, 500))
		Expect(c.Remarks).To(Equal([]string{"The two traces are the same, bit for bit."}))
	})

	It("tells nothing from another seed", func() {
		x, c := changed(side(7, 500), side(8, 100))
		Expect(x).To(And(HaveField("Judgement", Unclear), HaveField("Why", "the margin moved by -400 W, on another seed")))
		Expect(c.Remarks).To(ConsistOf(ContainSubstring("not the same one")))
		x, _ = changed(side(7, 500), side(8, -100))
		Expect(x.Judgement).To(Equal(Unclear))
	})
})

var _ = Describe("with several seeds", func() {
	It("tells a change that is larger than seeds explain", func() {
		x, c := changed(side(7, ofSeeds(12, 1500, 400, 1)...), side(7, ofSeeds(12, 900, 400, 2)...))
		Expect(x.Judgement).To(Equal(Worse))
		Expect(x.Why).To(MatchRegexp(`^the margin moved by -[0-9.]+ (W|kW), more than seeds explain \(p = 0\.0[0-9]+\)$`))
		Expect(c.Tests).To(Equal(1))
		Expect(c.Scenarios[0].Paired).To(BeTrue())
	})

	It("leaves alone what seeds explain", func() {
		x, _ := changed(side(7, 1500, 900, 2100, 1200, 1800, 600, 1400), side(7, 900, 1300, 1500, 1700, 1100, 900, 1000))
		Expect(x.Judgement).To(Equal(Unclear))
		Expect(x.Why).To(ContainSubstring("which seeds explain (p = "))
	})

	It("sees a small shift that all pairs share, since a pair has the same noise", func() {
		before := ofSeeds(12, 1500, 900, 1)
		after := make([]float64, len(before))
		for i, m := range before {
			after[i] = m - 200
		}
		x, _ := changed(side(7, before...), side(7, after...))
		Expect(x.Judgement).To(Equal(Worse))
		x, _ = changed(side(7, before...), side(100, after...)) // other seeds
		Expect(x.Judgement).To(Equal(Unclear))
	})

	It("compares other seeds by ranks, too", func() {
		x, c := changed(side(7, ofSeeds(10, 1500, 300, 1)...), side(100, ofSeeds(14, 700, 300, 2)...))
		Expect(x.Judgement).To(Equal(Worse))
		Expect(c.Scenarios[0]).To(And(HaveField("Paired", false), HaveField("SeedsB", HaveLen(14))))
	})

	It("counts the seeds that both sides have, where they are two or more", func() {
		_, c := changed(side(7, 500, 600, 700), side(8, 600, 700, 800))
		Expect(c.Scenarios[0].SeedsA).To(Equal([]uint64{8, 9}))
		Expect(c.Scenarios[0].Identical).To(Equal(2))
	})

	It("rests on agreement alone where seeds are too few, and says how many it takes", func() {
		x, c := changed(side(7, 1500, 1600, 1400), side(7, 900, 1100, 1000))
		Expect(x).To(And(HaveField("Judgement", Worse), HaveField("Why", "the margin moved by -500 W, on all 3 seeds, which are too few for a test")))
		Expect(c.Remarks).To(ConsistOf("3 seeds are too few for a test of 1 figures together at 5 %: it takes at least 6 seeds. Until then a difference counts where every seed agrees."))
		x, _ = changed(side(7, 1500, 1600, 1400), side(7, 900, 1100, 1600))
		Expect(x.Judgement).To(Equal(Unclear))
	})

	It("counts a seed that fails where every one held, however few", func() {
		x, _ := changed(side(7, 500, 500, 500), side(7, 500, -1, 500))
		Expect(x).To(And(HaveField("Judgement", Worse), HaveField("Why", "held, and fails on seed 8")))
	})

	It("judges how many seeds fail where some failed before", func() {
		before, after := make([]float64, 20), make([]float64, 20)
		for i := range before {
			before[i], after[i] = 10, -10
		}
		before[0] = -10
		x, _ := changed(side(7, before...), side(7, after...))
		Expect(x.Judgement).To(Equal(Worse))
		Expect(x.Why).To(HavePrefix("failed on 1 of 20 seeds, fails on 20 of 20, more than seeds explain (p = 3.8e-06)"))
		after = append([]float64{-10, -10}, before[2:]...)
		x, _ = changed(side(7, before...), side(7, after...))
		Expect(x.Judgement).To(Equal(Unclear))
		Expect(x.Why).To(HavePrefix("failed on 1 of 20 seeds, fails on 2 of 20, which seeds may explain"))
	})
})

var _ = Describe("a comparison", func() {
	It("holds its level over many criteria that have not changed", func() {
		// 200 comparisons of 10 criteria over 12 other seeds: at 5 % for all together, at most 10 or so tell something.
		told := 0
		for n := range uint64(200) {
			r := rand.New(rand.NewPCG(5, n))
			var a, b []verdict.Run
			for seed := range uint64(12) {
				x, y := verdict.Run{Scenario: "s", Seed: seed}, verdict.Run{Scenario: "s", Seed: 100 + seed}
				for k := range 10 {
					for run, at := range map[*verdict.Run]float64{&x: r.NormFloat64(), &y: r.NormFloat64()} {
						run.Criteria = append(run.Criteria, verdict.Criterion{Name: fmt.Sprint(k), Status: verdict.Passed, Exercised: 1,
							Unit: "W", Margin: verdict.Of(1000 + at), Limit: verdict.Of(1000)})
					}
				}
				a, b = append(a, x), append(b, y)
			}
			c, err := Compare(verdict.New(a...), verdict.New(b...), Options{Tolerance: 0, Level: 0.05})
			Expect(err).NotTo(HaveOccurred())
			for _, x := range c.Scenarios[0].Changes {
				if x.Judgement != Unclear {
					told++
					break
				}
			}
		}
		Expect(told).To(BeNumerically("<=", 20)) // mean at most 10, standard deviation 3.1
	})

	It("finds what only one side judges, and what is no longer shown", func() {
		nan := 0.0
		nan /= nan
		x, _ := changed(side(7, 500), side(7, nan))
		Expect(x).To(And(HaveField("Judgement", Worse), HaveField("Why", "held, and is not exercised now")))
		gone := side(7, 500)
		gone.Runs[0].Criteria = nil
		x, _ = changed(side(7, 500), verdict.New(gone.Runs...))
		Expect(x).To(And(HaveField("Judgement", Worse), HaveField("Why", "held, and is no longer judged")))
		x, _ = changed(verdict.New(gone.Runs...), side(7, 500))
		Expect(x).To(And(HaveField("Judgement", Same), HaveField("Why", "newly judged: passed")))
		x, _ = changed(verdict.New(gone.Runs...), side(7, -500))
		Expect(x).To(And(HaveField("Judgement", Worse), HaveField("Why", "newly judged, and fails on seed 7")))
	})

	It("counts a controller that dies, and not a fault of the bench", func() {
		died := side(7, 500)
		died.Runs[0].Error = &verdict.RunError{Kind: verdict.ControllerDied}
		c, err := Compare(side(7, 500), verdict.New(died.Runs...), Options{Tolerance: 0.05, Level: 0.05})
		Expect(err).NotTo(HaveOccurred())
		Expect(c.Worse).To(BeTrue())
		Expect(c.Scenarios[0].Changes[0].Why).To(Equal("1 of 1 did not come to the end, 0 of 1 before: controller died"))
		died.Runs[0].Error.Kind = verdict.BenchFault
		c, err = Compare(side(7, 500), verdict.New(died.Runs...), Options{Tolerance: 0.05, Level: 0.05})
		Expect(err).NotTo(HaveOccurred())
		Expect(c.Worse).To(BeFalse())
	})

	It("lists scenarios that only one side has, and refuses sides with none in common", func() {
		other := side(7, 500)
		other.Runs[0].Scenario = "calm-start"
		both := verdict.New(append(side(7, 500).Runs, other.Runs...)...)
		c, err := Compare(both, side(7, 500), Options{Tolerance: 0.05, Level: 0.05})
		Expect(err).NotTo(HaveOccurred())
		Expect(c.OnlyA).To(Equal([]string{"calm-start"}))
		_, err = Compare(verdict.New(other.Runs...), side(7, 500), Options{Tolerance: 0.05, Level: 0.05})
		Expect(err).To(MatchError(ErrNothing))
	})

	It("refuses options without sense", func() {
		_, err := Compare(side(7, 1), side(7, 1), Options{Tolerance: -1, Level: 0.05})
		Expect(err).To(MatchError("the tolerance -1: must be a share of the limit, from 0 to 10"))
		_, err = Compare(side(7, 1), side(7, 1), Options{Level: 1})
		Expect(err).To(MatchError("the level 1: must be above 0 and below 1"))
	})
})

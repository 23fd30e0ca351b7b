package verdict_test

import (
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/suites/verdict"
)

// seeded is a run of one seed with one criterion.
func seeded(seed uint64, status verdict.Status, margin verdict.Number) verdict.Run {
	r := run(status)
	r.Seed, r.Criteria[0].Margin = seed, margin
	return r
}

var _ = Describe("a verdict over several seeds", func() {
	It("tells the worst margin of each criterion, its seed, and how many seeds failed", func() {
		v := verdict.New(
			seeded(7, verdict.Passed, verdict.Of(300)), seeded(8, verdict.Failed, verdict.Of(-20)),
			seeded(9, verdict.Failed, verdict.Of(-45)), seeded(10, verdict.NotExercised, verdict.Number{}))
		Expect(v.Seeds).To(HaveLen(1))
		s := v.Seeds[0]
		Expect(s).To(And(HaveField("Scenario", "van-on-fuse"), HaveField("Seeds", []uint64{7, 8, 9, 10}), HaveField("Passed", false)))
		Expect(s.Criteria).To(Equal([]verdict.OverSeeds{{
			Name: "import", Unit: "W", Passed: 1, Failed: 2, NotExercised: 1,
			WorstMargin: verdict.Of(-45), WorstSeed: 9, MedianMargin: verdict.Of(-20), FailedSeeds: []uint64{8, 9},
		}}))
		Expect(s.Criteria[0].Status()).To(Equal(verdict.Failed))
	})

	It("names a seed that failed where there is no margin at all", func() {
		v := verdict.New(seeded(7, verdict.NotExercised, verdict.Number{}), seeded(8, verdict.Failed, verdict.Number{}))
		Expect(v.Seeds[0].Criteria[0]).To(And(HaveField("WorstSeed", uint64(8)), HaveField("WorstMargin", verdict.Number{})))
	})

	It("keeps clauses apart, and is undetermined where no seed failed and one was", func() {
		a, b := seeded(7, verdict.Passed, verdict.Of(1)), seeded(8, verdict.Undetermined, verdict.Number{})
		a.Criteria[0].Clause, b.Criteria[0].Clause = "level", "energy"
		criteria := verdict.New(a, b).Seeds[0].Criteria
		Expect(criteria).To(HaveLen(2))
		Expect(criteria[0].Title()).To(Equal("import (level)"))
		Expect(criteria[1].Status()).To(Equal(verdict.Undetermined))
	})

	It("lists the seeds that could not be judged", func() {
		Expect(verdict.New(run(verdict.Passed), broken(verdict.ControllerDied)).Seeds[0].Errors).To(HaveLen(1))
	})

	It("is not there for one seed, and is refused where the runs say otherwise", func() {
		v := verdict.New(seeded(7, verdict.Passed, verdict.Of(300)), seeded(8, verdict.Passed, verdict.Of(200)))
		text := written(v)
		Expect(verdict.Read(strings.NewReader(text))).To(Equal(v))
		_, err := verdict.Read(strings.NewReader(strings.Replace(text, `"worst_margin": 200`, `"worst_margin": 250`, 1)))
		Expect(err).To(MatchError("verdict: seeds: found other sums than the runs come to"))
		Expect(written(verdict.New(seeded(7, verdict.Passed, verdict.Of(300))))).NotTo(ContainSubstring(`"seeds"`))
	})
})

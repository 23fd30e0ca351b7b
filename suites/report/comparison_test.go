package report_test

import (
	"bytes"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/suites/compare"
	"kilter/suites/report"
	"kilter/suites/verdict"
)

// compared compares runs whose only margins are given, as overSeeds makes them.
func compared(a, b verdict.Verdict) compare.Comparison {
	GinkgoHelper()
	c, err := compare.Compare(a, b, compare.Options{Tolerance: 0.05, Level: 0.05})
	Expect(err).NotTo(HaveOccurred())
	return c
}

var _ = Describe("a comparison on the terminal", func() {
	text := func(c compare.Comparison) string {
		var text bytes.Buffer
		Expect(report.Comparison(&text, c, false)).To(Succeed())
		return text.String()
	}

	It("shows what changed, why it counts, and what it rests on", func() {
		Expect(text(compared(overSeeds(5000), overSeeds(-250)))).To(Equal(`WORSE  ev-start  (seed 7)
  criterion  change  limit          margin A  margin B  difference
  import     worse   at most 18 kW     +5 kW    −250 W    −5.25 kW
  import: held, and fails on seed 7

WORSE: 1 worse, 0 better, 0 unclear, 0 the same; 0 of 1 scenarios without a change
A margin has changed where it moved by more than 5 % of its limit, and by more than seeds explain (at 5 % for all together).
With one seed the differences are exact, and cannot be told from chance: another seed may show others. Several seeds on both sides allow a test.
`))
	})

	It("leaves out what did not change", func() {
		Expect(text(compared(overSeeds(500, 600), overSeeds(500, 610)))).To(And(
			HavePrefix("NOT WORSE: 0 worse, 0 better, 0 unclear, 1 the same; 1 of 1 scenarios without a change\n"),
			Not(ContainSubstring("ev-start"))))
	})

	It("names the seeds of both sides where they are not the same", func() {
		b := overSeeds(9000, 8000, 8500)
		for i := range b.Runs {
			b.Runs[i].Seed += 100
		}
		Expect(text(compared(overSeeds(500, 600), verdict.New(b.Runs...)))).To(HavePrefix("BETTER  ev-start  (2 seeds, 7 to 8 against 3 seeds, 107 to 109)\n"))
	})
})

var _ = Describe("the page of a comparison", func() {
	recorded := func(offset float64) report.Recorded {
		run := overSeeds(-250).Runs[0]
		run.Criteria[0].Columns = []string{"grid_w"}
		values := make([]float64, 120)
		for i := range values {
			values[i] = offset + float64(i)*100
		}
		return report.Recorded{Run: run, Series: report.Series{Columns: []report.Column{{Name: "grid_w", Label: "grid <flow>", Unit: "W", Kind: report.Grid, Values: values}}}}
	}
	page := func(look func(byte, string, uint64) (report.Recorded, bool)) string {
		var text bytes.Buffer
		Expect(report.Against(&text, compared(overSeeds(5000), overSeeds(-250)), report.Sides{A: "before: <steady>", B: "after", Look: look})).To(Succeed())
		return text.String()
	}
	both := func(side byte, scenario string, seed uint64) (report.Recorded, bool) {
		return recorded(map[byte]float64{'A': 0, 'B': 9000}[side]), scenario == "ev-start" && seed == 7
	}

	It("lays both traces over one another, with the limit, on the seed that is worst", func() {
		text := page(both)
		Expect(text).To(And(ContainSubstring("<h1>B is worse</h1>"), ContainSubstring("A: grid &lt;flow&gt;"), ContainSubstring("B: grid &lt;flow&gt;"),
			ContainSubstring("limit 18 kW"), ContainSubstring("A and B on seed 7."), ContainSubstring("held, and fails on seed 7.")))
		Expect(text).To(And(ContainSubstring("before: &lt;steady&gt;"), ContainSubstring(report.Cautions[0])))
	})

	It("fills no side's area beyond the limit, which would pass for that of both", func() {
		Expect(page(both)).To(And(ContainSubstring(`class="forbidden"`), Not(ContainSubstring(`data-draw="over"`))))
	})

	It("has no plots where there are no traces, or of other steps", func() {
		Expect(page(nil)).NotTo(ContainSubstring("<figure>"))
		Expect(page(func(side byte, scenario string, seed uint64) (report.Recorded, bool) {
			r, _ := both(side, scenario, seed)
			if side == 'B' {
				r.Series.StepS = 2
			}
			return r, true
		})).NotTo(ContainSubstring("<figure>"))
	})

	It("is the same each time, and needs nothing from elsewhere", func() {
		Expect(page(both)).To(Equal(page(both)))
		Expect(page(both)).NotTo(MatchRegexp(`(?i)https?://|<script|url\(`))
	})
})

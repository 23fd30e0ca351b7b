package report_test

import (
	"bytes"
	"fmt"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/suites/report"
	"kilter/suites/verdict"
)

// overSeeds are runs of one scenario whose only margin is given; a negative one has failed.
func overSeeds(margins ...float64) verdict.Verdict {
	var runs []verdict.Run
	for i, m := range margins {
		status := verdict.Passed
		if m < 0 {
			status = verdict.Failed
		}
		runs = append(runs, verdict.Run{
			Scenario: "ev-start", Title: "The <van> comes", Site: "bakery", Seed: uint64(7 + i), Controller: "steady", Pace: "stepped",
			Reproduce: fmt.Sprintf("kilter check ev-start --seed %d", 7+i),
			Criteria: []verdict.Criterion{{
				Name: "import", Status: status, Exercised: 1, Unit: "W", Bound: verdict.AtMost,
				Margin: verdict.Of(m), Observed: verdict.Of(18000 - m), Limit: verdict.Of(18000),
			}},
		})
	}
	return verdict.New(runs...)
}

var _ = Describe("the table over several seeds", func() {
	table := func(v verdict.Verdict) string {
		var text bytes.Buffer
		Expect(report.Table(&text, v, false)).To(Succeed())
		return text.String()
	}

	It("has one line a criterion, and explains the worst seed", func() {
		Expect(table(overSeeds(500, -250, 1500, -20))).To(Equal(`FAILED  ev-start  (site bakery, 4 seeds, 7 to 10, controller steady)
  criterion  verdict             limit          worst margin  of seed  median margin
  import     2 failed, 2 passed  at most 18 kW        −250 W        8         +240 W

  the worst of 2, seed 8
  criterion  import failed
  at         over the whole run
  observed   18.25 kW
  limit      at most 18 kW
  look at    the whole run
  reproduce  kilter check ev-start --seed 8

0 of 1 passed on every seed
`))
	})

	It("tells of seeds that could not be judged", func() {
		v := overSeeds(500, 600)
		v.Runs[1].Error = &verdict.RunError{Kind: verdict.ControllerDied, Detail: "exit code 3"}
		Expect(table(verdict.New(v.Runs...))).To(ContainSubstring("\n  seed 8: The run could not be judged to its end: controller died (exit code 3)."))
	})
})

var _ = Describe("the page on all runs", func() {
	page := func(v verdict.Verdict) string {
		var text bytes.Buffer
		Expect(report.Summary(&text, v, func(r verdict.Run) string { return fmt.Sprintf("seed-%d/report.html", r.Seed) })).To(Succeed())
		return text.String()
	}

	It("links each run, marks the failed ones, and names the seed of the worst margin", func() {
		text := page(overSeeds(500, -250, 1500))
		Expect(text).To(ContainSubstring("<h1>1 scenario, 3 runs</h1>"))
		for _, seed := range []string{"7", "8", "9"} {
			Expect(text).To(ContainSubstring(`href="seed-` + seed + `/report.html"`))
		}
		Expect(text).To(ContainSubstring(`class="bad">8 (failed)</a>`))
		Expect(text).To(ContainSubstring(`data-head="Of seed"><a href="seed-8/report.html">8</a>`))
		Expect(text).To(ContainSubstring(`margins of 3 seeds, the worst -250 W`))
		Expect(text).To(ContainSubstring("The &lt;van&gt; comes"))
		Expect(text).To(ContainSubstring(report.Cautions[0]))
	})

	It("is the same each time, and needs nothing from elsewhere", func() {
		text := page(overSeeds(500, -250))
		Expect(page(overSeeds(500, -250))).To(Equal(text))
		Expect(text).NotTo(MatchRegexp(`(?i)https?://|<script|url\(`))
	})
})

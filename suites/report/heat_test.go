package report_test

import (
	"bytes"
	"regexp"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/suites/report"
	"kilter/suites/verdict"
)

var _ = Describe("the margins of all runs at one glance", func() {
	run := func(scenario string, seed uint64, all ...verdict.Criterion) verdict.Run {
		return verdict.Run{Scenario: scenario, Seed: seed, Criteria: all}
	}
	found := func(name string, status verdict.Status, limit, margin float64) verdict.Criterion {
		return verdict.Criterion{Name: name, Status: status, Exercised: 1, Unit: "W", Limit: verdict.Of(limit), Margin: verdict.Of(margin)}
	}
	cells := func(runs ...verdict.Run) []string {
		var page bytes.Buffer
		Expect(report.Summary(&page, verdict.New(runs...), func(r verdict.Run) string { return r.Scenario + "/report.html" })).To(Succeed())
		var list []string
		for _, m := range regexp.MustCompile(`<td class="((?:kept|broken|idle)\d?)" title="[^"]*"><a href="([^"]*)"[^>]*>([^<]*)<`).FindAllStringSubmatch(page.String(), -1) {
			list = append(list, m[1]+" "+m[2]+" "+m[3])
		}
		return list
	}

	It("show scenarios by criteria, with the worst seed's margin as a share of the limit and a link", func() {
		Expect(cells(
			run("one", 1, found("import", verdict.Passed, 1000, 900), found("hunting", verdict.NotExercised, 150, 0)),
			run("one", 2, found("import", verdict.Passed, 1000, 100)),
			run("two", 1, found("import", verdict.Failed, 1000, -400), found("hunting", verdict.Undetermined, 150, 0)),
			run("three", 1, found("import", verdict.Failed, 10, -40000)),
		)).To(Equal([]string{
			"kept1 one/report.html 10", "idle one/report.html ·",
			"broken2 two/report.html ✕ −40", "idle two/report.html ?",
			"broken3 three/report.html ✕ ≤−999",
		}))
	})

	It("are left out where there is one scenario alone", func() {
		Expect(cells(run("one", 1, found("import", verdict.Passed, 1000, 900)))).To(BeEmpty())
	})
})

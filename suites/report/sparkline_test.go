package report_test

import (
	"math"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/suites/report"
	"kilter/suites/verdict"
)

var _ = Describe("a sparkline", func() {
	It("shows a spike of one row in a day", func() {
		day := make([]float64, 86400)
		day[40000] = 7000
		Expect(report.Sparkline(day, 24)).To(Equal("▁▁▁▁▁▁▁▁▁▁▁█▁▁▁▁▁▁▁▁▁▁▁▁  0 W to 7 kW"))
	})

	It("runs from the least to the greatest", func() {
		Expect(report.Sparkline([]float64{-2000, 0, 5000}, 3)).To(Equal("▁▃█  −2 kW to 5 kW"))
	})

	It("says nothing of nothing, and leaves a gap where nothing was recorded", func() {
		Expect(report.Sparkline(nil, 8)).To(BeEmpty())
		Expect(report.Sparkline([]float64{1, math.NaN(), 9}, 3)).To(Equal("▁ █  1 W to 9 W"))
	})

	It("stands under the heading of its run, where it is asked for", func() {
		run := shortFinding()
		var plain, drawn strings.Builder
		Expect(report.Table(&plain, verdict.New(run), false)).To(Succeed())
		Expect(report.TableBeside(&drawn, verdict.New(run), false, func(r verdict.Run) string { return "▁█ of " + r.Scenario })).To(Succeed())
		Expect(drawn.String()).To(ContainSubstring("  grid flow  ▁█ of oven-step\n"))
		Expect(strings.Replace(drawn.String(), "  grid flow  ▁█ of oven-step\n", "", 1)).To(Equal(plain.String()))
	})
})

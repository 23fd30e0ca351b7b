package report_test

import (
	"bytes"
	"math"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/suites/report"
)

func settings(m ...report.ShareMap) report.Settings {
	return report.Settings{Headline: "hold 30s", Word: "recommended", Passed: true, Sentence: "Its worst share is +0.3.", Command: "kilter check a",
		Head: []string{"", "hold"}, Rows: [][]string{{"recommended", "30s"}}, Robust: []report.Lot{{Name: "fresh seeds", Shares: []float64{0.3, -0.1}}},
		Clouds: []report.Cloud{{X: "writes", Y: "share", Dots: []report.Dot{{X: 1, Y: 2, Passed: true, Tip: "hold <30s>"}, {X: 2, Y: 3}}, Front: []int{0, 1}, Chosen: 0}},
		Maps:   m}
}

func page(s report.Settings) string {
	GinkgoHelper()
	var out bytes.Buffer
	Expect(report.WriteSettings(&out, s)).To(Succeed())
	return out.String()
}

var _ = Describe("the page of settings", func() {
	It("colours shares from the palest near a limit to the strongest, each side of it in its own ink, and shows the scale", func() {
		text := page(settings(report.ShareMap{X: "hold", Y: "apart", XValues: []string{"1s", "2s", "3s", "4s"}, YValues: []string{"2%"},
			Cells: [][]float64{{-0.5, 0, 0.2, math.NaN()}}, AtX: 2}))
		Expect(text).To(ContainSubstring(`<td class="broken" style="--ink:62%" title="hold 1s, apart 2%: ✕` + "\u202f" + `−0.500">`))
		Expect(text).To(ContainSubstring(`<td class="kept" style="--ink:6%" title="hold 2s, apart 2%: 0.000">`))
		Expect(text).To(ContainSubstring(`<td class="kept chosen" style="--ink:62%" title="hold 3s, apart 2%: 0.200, recommended">`))
		Expect(text).To(ContainSubstring(`>·</td>`))
		scale := text[strings.Index(text, `<p class="scale"`):]
		scale = scale[:strings.Index(scale, "</p>")]
		Expect(strings.Count(scale, "<span")).To(Equal(7))
		Expect(scale).To(And(ContainSubstring("−0.500"), ContainSubstring(">0.200<")))
	})

	It("uses the whole ink where nothing fails", func() {
		text := page(settings(report.ShareMap{X: "hold", Y: "apart", XValues: []string{"1s", "2s"}, YValues: []string{"2%"}, Cells: [][]float64{{0.4, 0.5}}}))
		Expect(text).To(And(ContainSubstring(`style="--ink:6%" title="hold 1s`), ContainSubstring(`style="--ink:62%" title="hold 2s`)))
	})

	It("needs no network, and lets no text out of its place", func() {
		text := page(settings())
		Expect(text).NotTo(MatchRegexp(`(src|href)="?(https?:)?//`))
		Expect(text).To(ContainSubstring("hold &lt;30s&gt;"))
		Expect(text).To(ContainSubstring("A bench result is evidence and not proof"))
	})
})

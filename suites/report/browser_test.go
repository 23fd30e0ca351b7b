package report_test

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/chromedp/chromedp/kb"
	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/suites/browser"
	"kilter/suites/compare"
	"kilter/suites/report"
	"kilter/suites/verdict"
)

// opened shows a page in a real browser.
func opened(page string) *browser.Tab {
	GinkgoHelper()
	path := filepath.Join(GinkgoT().TempDir(), "page.html")
	Expect(os.WriteFile(path, []byte(page), 0o644)).To(Succeed())
	tab := browser.ForSpec()
	Expect(tab.Go("file://" + path)).To(Succeed())
	Eventually(func() (bool, error) {
		return browser.Eval[bool](tab, `document.documentElement.dataset.ready === "true"`)
	}, "20s").Should(BeTrue())
	return tab
}

var _ = Describe("the page in a browser", Label("browser"), func() {
	It("loads with nothing on the console and no request elsewhere", func() {
		for _, run := range []verdict.Run{judged(), shortFinding()} {
			tab := opened(rendered(run, shortRun(), wiring()))
			Expect(tab.Console()).To(BeEmpty())
			Expect(tab.Elsewhere("file://")).To(BeEmpty())
			tab.Close()
		}
	})

	It("tells the values under the pointer, and takes a closer look by dragging", func() {
		tab := opened(rendered(shortFinding(), shortRun(), wiring()))
		Expect(tab.Size(1000, 900)).To(Succeed())
		const plot = `const svg = [...document.querySelectorAll("[data-plots='the whole run'] .wide .plot")][0];
			svg.scrollIntoView({block: "center"}); const box = svg.getBoundingClientRect();
			const x = s => box.left + (52 + s / 120 * 836) * box.width / 900;`
		at, err := browser.Eval[[]float64](tab, `(() => {`+plot+` return [x(30), x(60), box.top + box.height / 2]; })()`)
		Expect(err).NotTo(HaveOccurred())
		Expect(tab.Hover(at[0], at[2])).To(Succeed())
		Expect(browser.Eval[string](tab, `document.querySelector(".readout:not([hidden])").innerText`)).To(
			And(ContainSubstring("0:00:30"), ContainSubstring("10:30:30 local"), ContainSubstring("6.10 kW")))
		Expect(tab.Drag(at[0], at[2], at[1], at[2])).To(Succeed())
		Expect(browser.Eval[string](tab, `document.querySelector("[data-plots='the whole run'] [role=status]").textContent`)).To(
			MatchRegexp(`^0:00:(20|30)(\.\d)? to 0:01:(00|10)(\.\d)?$`))
		// Every plot of the section follows.
		Expect(browser.Eval[int](tab, `new Set([...document.querySelectorAll("[data-plots='the whole run'] .wide .plot")].map(
			p => p.querySelector(".times").textContent)).size`)).To(Equal(1))
	})

	It("is used by keyboard alone", func() {
		tab := opened(rendered(shortFinding(), shortRun(), wiring()))
		reached := func() string {
			text, err := browser.Eval[string](tab, `(document.activeElement.getAttribute("aria-label") || document.activeElement.textContent)`)
			Expect(err).NotTo(HaveOccurred())
			return text
		}
		for range 40 {
			Expect(tab.Keys(kb.Tab)).To(Succeed())
			if strings.HasPrefix(reached(), "Grid flow") {
				break
			}
		}
		Expect(reached()).To(HavePrefix("Grid flow"))
		Expect(tab.Keys("+")).To(Succeed())
		Expect(tab.Keys(kb.ArrowRight)).To(Succeed())
		Expect(browser.Eval[string](tab, `document.querySelector(".readout:not([hidden])").innerText`)).To(ContainSubstring("grid"))
		Expect(browser.Eval[string](tab, `document.querySelector("[data-plots='the whole run'] [role=status]").textContent`)).To(Equal("0:00:30 to 0:01:30"))
		Expect(tab.Keys(kb.Escape)).To(Succeed())
		Expect(browser.Eval[string](tab, `document.querySelector("[data-plots='the whole run'] [role=status]").textContent`)).To(HavePrefix("Drag"))
	})

	It("fits a window of 400 px", func() {
		tab := browser.ForSpec()
		Expect(tab.Size(400, 800)).To(Succeed())
		path := filepath.Join(GinkgoT().TempDir(), "page.html")
		Expect(os.WriteFile(path, []byte(rendered(judged(), bakery(2), wiring())), 0o644)).To(Succeed())
		Expect(tab.Go("file://" + path)).To(Succeed())
		Expect(browser.Eval[float64](tab, `document.documentElement.scrollWidth`)).To(BeNumerically("<=", 400))
	})

	It("keeps nobody out, in light and in dark", func() {
		tab := opened(rendered(shortFinding(), shortRun(), wiring()))
		for _, scheme := range []string{"light", "dark"} {
			Expect(tab.Scheme(scheme)).To(Succeed())
			found, passed, err := tab.Barriers()
			if err == browser.ErrNoAxe {
				Skip(err.Error())
			}
			Expect(err).NotTo(HaveOccurred())
			Expect(found).To(BeEmpty(), scheme)
			Expect(passed).To(BeNumerically(">", 10))
		}
	})

	DescribeTable("keeps nobody out of the pages on many runs, in light, in dark and on a phone",
		func(page func() (string, error)) {
			text, err := page()
			Expect(err).NotTo(HaveOccurred())
			path := filepath.Join(GinkgoT().TempDir(), "page.html")
			Expect(os.WriteFile(path, []byte(text), 0o644)).To(Succeed())
			tab := browser.ForSpec()
			for _, width := range []int64{1280, 400} {
				Expect(tab.Size(width, 800)).To(Succeed())
				Expect(tab.Go("file://" + path)).To(Succeed())
				Expect(browser.Eval[float64](tab, `document.documentElement.scrollWidth`)).To(BeNumerically("<=", width))
				for _, scheme := range []string{"light", "dark"} {
					Expect(tab.Scheme(scheme)).To(Succeed())
					found, passed, err := tab.Barriers()
					if err == browser.ErrNoAxe {
						Skip(err.Error())
					}
					Expect(err).NotTo(HaveOccurred())
					Expect(found).To(BeEmpty(), "%s, %d px", scheme, width)
					Expect(passed).To(BeNumerically(">", 10))
				}
			}
			Expect(tab.Console()).To(BeEmpty())
			Expect(tab.Elsewhere("file://")).To(BeEmpty())
		},
		Entry("the summary", func() (string, error) {
			var text bytes.Buffer
			v := overSeeds(5000, -250, 1500)
			v = verdict.New(append(v.Runs, judged())...)
			err := report.Summary(&text, v, func(r verdict.Run) string { return fmt.Sprintf("seed-%d/report.html", r.Seed) })
			return text.String(), err
		}),
		Entry("the comparison", func() (string, error) {
			var text bytes.Buffer
			c, err := compare.Compare(overSeeds(5000, 4000, 900), overSeeds(-250, 4000, 800), compare.Options{Tolerance: 0.05, Level: 0.05})
			if err != nil {
				return "", err
			}
			err = report.Against(&text, c, report.Sides{A: "before", B: "after", Look: func(side byte, _ string, seed uint64) (report.Recorded, bool) {
				run := overSeeds(-250).Runs[0]
				run.Seed, run.Criteria[0].Columns = seed, []string{"grid_w"}
				values := make([]float64, 120)
				for i := range values {
					values[i] = float64(side-'A')*9000 + float64(i)*100
				}
				return report.Recorded{Run: run, Series: report.Series{Columns: []report.Column{{Name: "grid_w", Label: "grid flow", Unit: "W", Kind: report.Grid, Values: values}}}}, true
			}})
			return text.String(), err
		}),
		Entry("the settings", func() (string, error) {
			m := report.ShareMap{X: "hold", Y: "apart", AtX: 3, AtY: 1}
			for i := range 10 {
				m.XValues = append(m.XValues, fmt.Sprintf("%ds", 10*i))
			}
			for y := range 3 {
				m.YValues = append(m.YValues, fmt.Sprintf("%d%%", y))
				row := make([]float64, 10)
				for x := range row {
					row[x] = float64(x*y)/18 - 0.5
				}
				m.Cells = append(m.Cells, row)
			}
			var text bytes.Buffer
			err := report.WriteSettings(&text, settings(m))
			return text.String(), err
		}),
	)

	It("leaves a hostile name inert", func() {
		evil := `<img src=x onerror="document.title='owned'"><script>document.title='owned'</script>`
		run, series := shortFinding(), shortRun()
		run.Title, series.Columns[0].Label, series.Marks[0].Label = evil, evil, evil
		tab := opened(rendered(run, series, report.Wiring{Name: evil, Kind: "supply", Within: []report.Wiring{{Name: evil, Kind: "load"}}}))
		Expect(browser.Eval[string](tab, `document.title`)).To(ContainSubstring("<img"))
		Expect(browser.Eval[int](tab, `document.querySelectorAll("img").length`)).To(BeZero())
		Expect(tab.Console()).To(BeEmpty())
	})
})

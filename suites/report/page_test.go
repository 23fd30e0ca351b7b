package report_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/xml"
	"errors"
	"html"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/suites/report"
	"kilter/suites/verdict"
)

func rendered(run verdict.Run, series report.Series, site report.Wiring) string {
	var page bytes.Buffer
	ExpectWithOffset(1, report.Page(&page, run, series, site)).To(Succeed())
	return page.String()
}

// kept writes the page where -page says, for eyes.
func kept(name, page string) {
	if *pageTo != "" {
		ExpectWithOffset(1, os.WriteFile(filepath.Join(*pageTo, name), []byte(page), 0o644)).To(Succeed())
	}
}

var svgs = regexp.MustCompile(`(?s)<svg (class="plot" )?viewBox.*?</svg>\n`)

// malformed returns the first plot that is no XML, or holds a coordinate
// that is no figure.
func malformed(page string) error {
	for _, svg := range svgs.FindAllString(page, -1) {
		decoder := xml.NewDecoder(strings.NewReader(svg))
		for {
			token, err := decoder.Token()
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil {
				return err
			}
			if element, ok := token.(xml.StartElement); ok {
				for _, a := range element.Attr {
					if a.Name.Local != "aria-label" && (strings.Contains(a.Value, "NaN") || strings.Contains(a.Value, "Inf")) {
						return errors.New(element.Name.Local + " " + a.Name.Local + "=" + a.Value)
					}
				}
			}
		}
	}
	return nil
}

// shortRun is two minutes with every figure in it, small enough to read its
// golden plots.
func shortRun() report.Series {
	column := func(name, device, unit string, kind report.Kind, values ...float64) report.Column {
		return report.Column{Name: name, Device: device, Unit: unit, Kind: kind, Values: values}
	}
	grid := column("grid", "", "W", report.Grid, 500, 600, 4200, 6100, 5200, 900, 300, -200, -400, 100, 0, 0, 50)
	grid.Min, grid.Max = make([]float64, 13), make([]float64, 13)
	for i, v := range grid.Values {
		grid.Min[i], grid.Max[i] = v-100, v+150
	}
	return report.Series{
		StepS: 10, StartLocal: time.Date(2026, 6, 18, 10, 30, 0, 0, time.UTC),
		Columns: []report.Column{
			grid,
			column("oven", "", "W", report.Load, 0, 0, 6000, 6000, 6000, 6000, 6000, 0, 0, 0, 0, 0, 0),
			column("north", "", "W", report.Inverter, 500, 500, 500, 0, -800, -3000, -3000, -200, 0, 0, 0, 0, 0),
			column("north.soc", "north", "", report.SOC, .5, .5, .5, .5, .5, .49, .49, .48, .48, .48, .48, .48, math.NaN()),
		},
		Bounds: report.Bounds{ImportW: verdict.Of(5000), Wanted: []report.Window{{FromS: 0, ToS: 15}}},
		Marks: []report.Mark{
			{AtS: 20, Label: "the deck oven heats up", Kind: report.Event},
			{AtS: 22, Label: "link of north slow", Kind: report.Fault},
			{AtS: 0, Kind: report.Command, Lane: "north setpoint", Value: 500, Unit: "W"},
			{AtS: 40, Kind: report.Command, Lane: "north setpoint", Value: -3000, Unit: "W"},
			{AtS: 70, Kind: report.Command, Lane: "north setpoint", Value: 0, Unit: "W"},
			{AtS: 0, Kind: report.Command, Lane: "north mode", Value: math.NaN(), Label: "self-consumption"},
		},
	}
}

func shortFinding() verdict.Run {
	return verdict.New(verdict.Run{Scenario: "oven-step", Site: "bakery", Controller: "steady", Pace: "stepped", Reproduce: "kilter check oven-step",
		Criteria: []verdict.Criterion{{Name: "import", Status: verdict.Failed, Bound: verdict.AtMost, Unit: "W",
			Observed: verdict.Of(6100), Limit: verdict.Of(5000), Margin: verdict.Of(-1100), AtS: verdict.Seconds(30),
			FromS: verdict.Seconds(25), ToS: verdict.Seconds(41), Detail: "above the limit for 16 s"}}}).Runs[0]
}

var _ = Describe("the page", func() {
	It("holds a bakery's day in less than 3 MB, and its plots are well-formed", func() {
		page := rendered(judged(), bakery(24), wiring())
		kept("day.html", page)
		Expect(len(page)).To(BeNumerically("<", 3<<20))
		Expect(malformed(page)).To(Succeed())
	})

	It("needs no network, and runs no script but its own", func() {
		page := rendered(judged(), bakery(6), wiring())
		Expect(page).NotTo(MatchRegexp(`(?i)<link|<iframe|<img|@import|url\(|https?:/|\ssrc=|javascript:`))
		scripts := regexp.MustCompile(`(?s)<script([^>]*)>(.*?)</script>`).FindAllStringSubmatch(page, -1)
		Expect(scripts).To(HaveLen(2))
		Expect(scripts[0][1]).To(Equal(` type="application/json" id="record"`))
		Expect(scripts[1][1]).To(BeEmpty())
		own := sha256.Sum256([]byte(scripts[1][2]))
		Expect(page).To(ContainSubstring(html.EscapeString("script-src 'sha256-" + base64.StdEncoding.EncodeToString(own[:]) + "'")))
		for _, link := range regexp.MustCompile(`href="([^"]*)"`).FindAllStringSubmatch(page, -1) {
			Expect(link[1]).To(HavePrefix("#failure-"))
			Expect(page).To(ContainSubstring(`id="` + link[1][1:] + `"`))
		}
	})

	It("gives equal bytes for equal inputs", func() {
		Expect(rendered(judged(), bakery(6), wiring())).To(Equal(rendered(judged(), bakery(6), wiring())))
	})

	It("shows what a sentence of the scenario's own asks, once in each place", func() {
		const asks = "always (grid > 18 kW implies eventually within 20 s grid <= 18 kW)"
		run := shortFinding()
		run.Criteria[0].Name, run.Criteria[0].Formula, run.Criteria[0].Detail = "formula.calm", asks, asks
		run.Criteria = append(run.Criteria, verdict.Criterion{Name: "formula.late", Status: verdict.Undetermined, Formula: "eventually within 2 h north > 1 W",
			Detail: "the run ended before it was decided: eventually within 2 h north > 1 W"})
		page := html.UnescapeString(rendered(run, shortRun(), report.Wiring{}))
		Expect(strings.Count(page, asks)).To(Equal(2), "below the table, and with the failure")
		Expect(page).To(ContainSubstring("<b>formula.late</b> undetermined: the run ended before it was decided."))
		Expect(strings.Count(page, "eventually within 2 h")).To(Equal(1))
	})

	It("does not speak of a controller where there was none", func() {
		run := shortFinding()
		run.Controller = "none"
		Expect(rendered(run, shortRun(), report.Wiring{})).To(ContainSubstring("Without a controller the site failed 1 of 1 judged criterion;"))
	})

	It("keeps figures and their units on one line, in a long limit as well", func() {
		run := shortFinding()
		run.Criteria[0].Allowance = "except up to 30 s in any hour"
		Expect(rendered(run, shortRun(), report.Wiring{})).To(ContainSubstring("at most 5\u00a0kW, except up to 30\u00a0s in any hour</td>"))
	})

	It("states each failure in five parts, with a plot and the command to reproduce it", func() {
		page := rendered(shortFinding(), shortRun(), report.Wiring{})
		Expect(page).To(ContainSubstring("The controller steady failed 1 of 1 judged criterion; the worst: import, observed 6.1 kW, limit at most 5 kW, at 0:00:30 (10:30:30 local)."))
		section := page[strings.Index(page, `<section id="failure-A"`):strings.Index(page, "<h2>The whole run")]
		for _, part := range []string{"import: above the limit for 16 s", "0:00:30 (10:30:30 local)", "6.1 kW", "at most 5 kW",
			"rows t = 25 s to 41 s", "kilter check oven-step", "worst at 0:00:30", "limit 5 kW", `class="over"`} {
			Expect(section).To(ContainSubstring(part))
		}
	})

	It("tells what the controller had read against what was true, what it did, and each clause", func() {
		run := shortFinding()
		c := &run.Criteria[0]
		avoidable := true
		c.Avoidable, c.Decides = &avoidable, "level"
		c.Clauses = []verdict.Clause{{Name: "level", Status: verdict.Failed, Unit: "W", Margin: verdict.Of(-1100)}, {Name: "energy", Status: verdict.Passed, Unit: "Wh", Margin: verdict.Of(12)}}
		c.Cause = &verdict.Cause{AtS: verdict.Seconds(25), FoundS: verdict.Seconds(27),
			Reads: []verdict.ValueRead{
				{AtS: verdict.Seconds(20), Device: "grid_meter", Signal: "ac_power", Told: verdict.Of(640), True: verdict.Of(5900), Unit: "W"},
				{AtS: verdict.Seconds(26), Device: "grid_meter", Signal: "ac_power", Told: verdict.Of(6000), True: verdict.Of(6000), Unit: "W"}},
			Commands: []verdict.CommandGiven{{AtS: verdict.Seconds(5), Device: "north", Signal: "charge_limit", Value: verdict.Of(0), Unit: "W"}},
			Truth:    []verdict.Figure{{Name: "grid_w", Value: verdict.Of(5900), Unit: "W"}}}
		page := rendered(run, shortRun(), report.Wiring{})
		section := page[strings.Index(page, `<section id="failure-A"`):strings.Index(page, "<h2>The whole run")]
		for _, part := range []string{"yes: at that moment the batteries could have kept the limit", "had read by 0:00:25", "grid meter ac power", "0:00:20",
			"640\u00a0W", "5.9\u00a0kW", "north charge limit 0\u00a0W", ">energy</th>", "12\u00a0Wh"} {
			Expect(section).To(ContainSubstring(part))
		}
		Expect(section).NotTo(ContainSubstring("0:00:26"), "what it learnt too late")
	})

	It("says that a bench fault counts against nobody", func() {
		run := shortFinding()
		run.Error = &verdict.RunError{Kind: verdict.BenchFault, Detail: "power balance at main board", AtS: verdict.Seconds(12)}
		page := rendered(verdict.New(run).Runs[0], shortRun(), report.Wiring{})
		Expect(page).To(ContainSubstring(`<p class="verdict undetermined">bench fault</p>`))
		Expect(page).To(ContainSubstring("nothing here counts for or against the controller"))
	})

	It("claims nothing where nothing was exercised", func() {
		run := verdict.New(verdict.Run{Criteria: []verdict.Criterion{{Name: "settle", Status: verdict.NotExercised}}}).Runs[0]
		page := rendered(run, report.Series{}, report.Wiring{})
		Expect(page).To(ContainSubstring(`>nothing shown</p>`))
		Expect(page).To(ContainSubstring("No trace was recorded"))
		Expect(page).NotTo(ContainSubstring(">passed<"))
	})

	It("names the closest criterion of a run that passed", func() {
		run := judged()
		run.Criteria = run.Criteria[1:4]
		page := rendered(verdict.New(run).Runs[0], report.Series{}, report.Wiring{})
		Expect(page).To(ContainSubstring("kept 3 of 3 judged criteria; the closest: settle, with 12 s to spare."))
	})

	It("draws no limit across a column that the limit is not a level of", func() {
		run := shortFinding()
		run.Criteria[0].Name, run.Criteria[0].Clause = "hunting", "amplitude"
		page := rendered(verdict.New(run).Runs[0], shortRun(), report.Wiring{})
		section := page[strings.Index(page, `<section id="failure-A"`):strings.Index(page, "<h2>The whole run")]
		Expect(section).To(ContainSubstring("Failure A: grid"))
		Expect(section).NotTo(ContainSubstring(`class="limit"`))
	})

	It("draws an export limit on the export side", func() {
		run := shortFinding()
		c := &run.Criteria[0]
		c.Name, c.Limit, c.Observed, c.AtS = "export", verdict.Of(300), verdict.Of(400), verdict.Seconds(80)
		plain := rendered(verdict.New(run).Runs[0], shortRun(), report.Wiring{})
		c.Columns, c.TraceLimit = []string{"grid"}, verdict.Of(-300)
		named := rendered(verdict.New(run).Runs[0], shortRun(), report.Wiring{})
		closeup := func(page string) string { return svgs.FindAllString(page[strings.Index(page, "<figure>"):], 1)[0] }
		Expect(closeup(plain)).To(ContainSubstring(`class="over"`))
		Expect(closeup(named)).To(Equal(closeup(plain)))
	})

	It("always shows the standing cautions", func() {
		page := rendered(verdict.Run{}, report.Series{}, report.Wiring{})
		Expect(page).To(And(ContainSubstring("evidence and not proof"), ContainSubstring("licensed people"),
			ContainSubstring("Never point the bench")))
		page = rendered(verdict.Run{Cautions: append([]string{"One of this run's own."}, report.Cautions...)}, report.Series{}, report.Wiring{})
		for _, c := range append([]string{"One of this run"}, report.Cautions[1:]...) {
			c = strings.Split(c, "'")[0]
			Expect(strings.Count(page, c)).To(Equal(1), c)
		}
	})

	It("marks in a close-up when the failure began, and shows that time", func() {
		run := shortFinding()
		run.Criteria[0].FirstS = verdict.Seconds(5)
		page := rendered(run, shortRun(), report.Wiring{})
		Expect(page).To(ContainSubstring("<dt>Broken since</dt><dd>0:00:05 (10:30:05 local)</dd>"))
		Expect(page).To(ContainSubstring(`class="onset"`))
		Expect(page).To(ContainSubstring(">broken since 0:00:05</text>"))
		Expect(malformed(page)).To(Succeed())
		run.Criteria[0].FirstS = run.Criteria[0].AtS
		Expect(rendered(run, shortRun(), report.Wiring{})).NotTo(Or(ContainSubstring("Broken since"), ContainSubstring(`class="onset"`)))
	})

	It("shows hostile names as text, wherever they come in", func() {
		evil := `<script>alert("x")</script>'"><img src=x onerror=y>&` + "\x00\x1b"
		run, series := shortFinding(), shortRun()
		run.Scenario, run.Title, run.Site, run.Controller, run.Pace, run.Reproduce = evil, evil, evil, evil, evil, evil
		run.StartedLocal, run.TraceSHA256, run.Audit.WorstNode, run.Cautions = evil, evil, evil, []string{evil}
		run.Criteria[0].Detail, run.Criteria[0].Formula, run.Criteria[0].Unit = evil, evil, evil
		run.Criteria[0].Columns = []string{evil}
		for i := range series.Columns {
			series.Columns[i].Name += evil
			series.Columns[i].Label = evil
			series.Columns[i].Unit = evil
		}
		for i := range series.Marks {
			series.Marks[i].Label, series.Marks[i].Lane, series.Marks[i].Unit = evil, evil, evil
		}
		series.Bounds.Wanted[0].Label = evil
		site := report.Wiring{Name: evil, Kind: evil, Detail: evil, Sees: []string{evil}, Within: []report.Wiring{{Name: evil}}}
		page := rendered(run, series, site)
		kept("hostile.html", page)
		Expect(page).To(ContainSubstring("&lt;script&gt;"))
		Expect(page).NotTo(MatchRegexp(`(?i)<script>alert|<img`))
		Expect(malformed(page)).To(Succeed())
	})

	It("survives figures that are none, and spans of nothing", func() {
		series := shortRun()
		for i := range series.Columns {
			series.Columns[i].Values[3] = math.Inf(1)
			series.Columns[i].Values[4] = -math.MaxFloat64
		}
		series.Columns[0].Max[5], series.Columns[0].Min[6] = math.Inf(1), math.Inf(-1)
		series.Marks = append(series.Marks, report.Mark{AtS: -1e300, Kind: report.Command, Value: math.Inf(1)},
			report.Mark{AtS: 1e300, Kind: report.Event, Label: "never"})
		series.Bounds.ExportW = verdict.Of(1e300)
		run := shortFinding()
		Expect(malformed(rendered(run, series, report.Wiring{}))).To(Succeed())
		run.Criteria[0].AtS = verdict.Seconds(1e9)
		Expect(malformed(rendered(run, series, report.Wiring{}))).To(Succeed())
		for i := range series.Columns {
			series.Columns[i].Values, series.Columns[i].Min, series.Columns[i].Max = []float64{1}, nil, nil
		}
		Expect(rendered(run, series, report.Wiring{})).To(ContainSubstring("No trace was recorded"))
	})

	DescribeTable("refuses a series that does not fit together, and names the column",
		func(spoil func(*report.Series), message string) {
			series := shortRun()
			spoil(&series)
			Expect(report.Page(io.Discard, shortFinding(), series, report.Wiring{})).To(MatchError(message))
		},
		Entry("rows", func(s *report.Series) { s.Columns[1].Values = s.Columns[1].Values[:12] },
			`report: column "oven": found 12 rows, but "grid" has 13`),
		Entry("extremes", func(s *report.Series) { s.Columns[0].Min = s.Columns[0].Min[:3] },
			`report: column "grid": found 3 extremes for 13 rows`),
		Entry("half the extremes", func(s *report.Series) { s.Columns[0].Max = nil },
			`report: column "grid": found only one of the two extremes, want both or none`),
		Entry("step", func(s *report.Series) { s.StepS = -1 }, `report: step: found -1 s, want 1 ms to one day`),
		Entry("a mark's time", func(s *report.Series) { s.Marks[0].AtS = math.NaN() },
			`report: mark "the deck oven heats up": found time NaN s, want a finite one`),
	)
})

var _ = Describe("the plots", func() {
	// Graded 'regression only': they pin the drawing, and prove nothing else.
	It("are those of the golden files", func() {
		page := rendered(shortFinding(), shortRun(), report.Wiring{})
		kept("short.html", page)
		titles := regexp.MustCompile(`<figcaption><b>([^<]*)</b>`).FindAllStringSubmatch(page, -1)
		plots := svgs.FindAllString(page[strings.Index(page, "<figure>"):], -1)
		Expect(plots).To(HaveLen(2 * len(titles)))
		for i, title := range titles {
			name := strings.NewReplacer(" ", "-", ":", "").Replace(strings.ToLower(title[1]))
			golden(name+".svg", strings.ReplaceAll(plots[2*i], "><", ">\n<"))
		}
		golden("grid-flow-narrow.svg", strings.ReplaceAll(plots[2*3+1], "><", ">\n<"))
	})

	It("take the colours as Okabe and Ito published them", func() {
		// Okabe and Ito, "Color Universal Design", 2008: orange, sky blue, bluish
		// green, yellow, blue, vermilion, reddish purple.
		page := strings.ToLower(rendered(verdict.Run{}, report.Series{}, report.Wiring{}))
		for _, rgb := range [][3]int{{230, 159, 0}, {86, 180, 233}, {0, 158, 115}, {240, 228, 66}, {0, 114, 178}, {213, 94, 0},
			{204, 121, 167}} {
			Expect(page).To(ContainSubstring("#" + hex(rgb[0]) + hex(rgb[1]) + hex(rgb[2])))
		}
	})

	It("sets its text against the paper with a contrast of 4.5 or more, in light and in dark", func() {
		// WCAG 2.1, 1.4.3 with the definitions of relative luminance and contrast ratio.
		page := rendered(verdict.Run{}, report.Series{}, report.Wiring{})
		themes := strings.SplitN(page, "@media (prefers-color-scheme: dark)", 2)
		for _, theme := range themes {
			paper := luminance(variable(theme, "paper"))
			for _, name := range []string{"text", "dim", "bad", "good", "open"} {
				ink := luminance(variable(theme, name))
				Expect((math.Max(ink, paper)+0.05)/(math.Min(ink, paper)+0.05)).To(BeNumerically(">=", 4.5), name)
			}
		}
	})
})

func hex(v int) string {
	text := strconv.FormatInt(int64(v), 16)
	return strings.Repeat("0", 2-len(text)) + text
}

func variable(css, name string) string {
	return regexp.MustCompile(`--` + name + `: #([0-9a-f]{6})`).FindStringSubmatch(css)[1]
}

func luminance(rgb string) float64 {
	sum := 0.0
	for i, weight := range []float64{0.2126, 0.7152, 0.0722} {
		v, err := strconv.ParseInt(rgb[2*i:2*i+2], 16, 64)
		Expect(err).NotTo(HaveOccurred())
		c := float64(v) / 255
		if c <= 0.03928 {
			sum += weight * c / 12.92
		} else {
			sum += weight * math.Pow((c+0.055)/1.055, 2.4)
		}
	}
	return sum
}

func golden(name, got string) {
	path := filepath.Join("testdata", name)
	if *update {
		ExpectWithOffset(1, os.WriteFile(path, []byte(got), 0o644)).To(Succeed())
		return
	}
	want, err := os.ReadFile(path)
	ExpectWithOffset(1, err).NotTo(HaveOccurred())
	ExpectWithOffset(1, got).To(Equal(string(want)),
		name+" differs: run go test with -args -update, inspect the diff, and commit only what you understand")
}

func BenchmarkPageOfADay(b *testing.B) {
	run, series, site := judged(), bakery(24), wiring()
	for b.Loop() {
		if err := report.Page(io.Discard, run, series, site); err != nil {
			b.Fatal(err)
		}
	}
}

// FuzzPage: no label and no figure makes a plot malformed or brings markup in.
func FuzzPage(f *testing.F) {
	f.Add("north", 4600.0, 30.0)
	f.Add("<b>\"'&\x00", math.Inf(-1), -1e300)
	f.Add("\xff\u202e", 1e12, 119.99)
	f.Fuzz(func(t *testing.T, label string, value, at float64) {
		series := shortRun()
		series.Columns[0].Label, series.Columns[2].Label = label, label
		series.Columns[0].Values[6], series.Columns[2].Values[5] = value, value
		if !math.IsNaN(at) && !math.IsInf(at, 0) {
			series.Marks = append(series.Marks, report.Mark{AtS: at, Label: label, Kind: report.Event},
				report.Mark{AtS: at, Lane: label, Value: value, Kind: report.Command})
		}
		run := shortFinding()
		run.Criteria[0].AtS, run.Criteria[0].Limit = verdict.Seconds(at), verdict.Of(value)
		var page bytes.Buffer
		if err := report.Page(&page, run, series, report.Wiring{Name: label}); err != nil {
			t.Fatal(err)
		}
		if err := malformed(page.String()); err != nil {
			t.Fatal(err)
		}
		if strings.Contains(page.String(), "<b>\"") {
			t.Fatal("markup came through")
		}
	})
}

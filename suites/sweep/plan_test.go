package sweep_test

import (
	"bytes"
	"fmt"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"github.com/parquet-go/parquet-go"

	"kilter/scenarios"
	"kilter/suites/campaign"
	"kilter/suites/sweep"
	"kilter/suites/verdict"
)

func plan(c campaign.Controller, seeds int, knobs ...string) *sweep.Plan {
	GinkgoHelper()
	p := &sweep.Plan{Controller: c, Seeds: seeds}
	for _, text := range knobs {
		p.Knobs = append(p.Knobs, knob(text))
	}
	var err error
	p.Points, err = sweep.Points(sweep.Grid, p.Knobs, 0)
	Expect(err).NotTo(HaveOccurred())
	for _, name := range []string{"calm-start", "ev-start"} {
		sc, err := scenarios.Builtin(name)
		Expect(err).NotTo(HaveOccurred())
		story, err := sweep.NewStory(name, sc)
		Expect(err).NotTo(HaveOccurred())
		p.Stories = append(p.Stories, story)
	}
	return p
}

// played makes results up: the share of a run is that of the point, less a tenth of the distance of its seed.
func played(p *sweep.Plan, cases []sweep.Case) []*campaign.Result {
	var list []*campaign.Result
	for _, c := range cases {
		margin := 100*float64(c.Point+2) - 10*float64(c.Seed-p.Stories[c.Story].Seed)
		list = append(list, &campaign.Result{Passed: true, Trace: "abc", WritesPerHour: float64(40 + c.Point), Findings: []campaign.Finding{
			{Name: "import", Status: verdict.Passed, Margin: verdict.Of(margin), Observed: verdict.Of(1000 - margin), Limit: verdict.Of(1000), Unit: "W", Bound: verdict.AtMost},
			{Name: "reserve", Status: verdict.NotExercised, Unit: "%", Bound: verdict.AtLeast},
		}})
	}
	return list
}

var _ = Describe("a plan", func() {
	steady := campaign.Controller{Policy: "steady --hold {hold} --margin 400W --soc-apart={apart}"}

	It("has a run for each point, story and seed, with the settings as they stand first", func() {
		p := plan(steady, 2, "hold=30s:60s:2", "apart=3%:5%:3", "north.battery.capacity=8 kWh:12 kWh:2", "LEVEL=1,2")
		cases, err := p.Cases()
		Expect(err).NotTo(HaveOccurred())
		Expect(cases).To(HaveLen((1 + 2*3*2*2) * 2 * 2))
		first := cases[0].Run.Controller
		Expect(cases[0].Point).To(Equal(sweep.Unvaried))
		Expect(first.Policy).To(Equal("steady --margin 400W"))
		Expect(first.Settings).To(BeEmpty())
		last := cases[len(cases)-1]
		Expect(last.Run.Controller.Settings).To(Equal([]campaign.Setting{{Name: "hold", Value: "60s"}, {Name: "apart", Value: "5%"}, {Name: "LEVEL", Value: "2"}}))
		Expect(last.Run.Scenario).To(And(ContainSubstring("capacity: 12 kWh"), ContainSubstring(fmt.Sprintf("seed: %d", last.Seed))))
		keys := map[string]bool{}
		for i := range cases {
			key, err := cases[i].Run.Key()
			Expect(err).NotTo(HaveOccurred())
			keys[key] = true
		}
		Expect(keys).To(HaveLen(len(cases)))
	})

	It("knows no settings as they stand where a command's own words hold them", func() {
		Expect(plan(campaign.Controller{Command: "./mine --gain {gain}"}, 1, "gain=1:2:2").HasUnvaried()).To(BeFalse())
		Expect(plan(campaign.Controller{Command: "./mine"}, 1, "GAIN=1:2:2").HasUnvaried()).To(BeTrue())
		Expect(plan(campaign.Controller{Policy: "steady"}, 1, "north.lag=1 s:2 s:2").HasUnvaried()).To(BeTrue())
	})

	DescribeTable("refuses what does not fit, and says where", func(knob, want string) {
		_, err := plan(steady, 1, "hold=30s:60s:2", "apart=3%:5%:3", knob).Cases()
		Expect(err).To(MatchError(ContainSubstring(want)))
	},
		Entry("no such place", "north.battery.capcity=8 kWh:12 kWh:2", "capcity"),
		Entry("no such name", "margn=1 W:2 W:2", "a setting of the controller stands in braces in its words, as {margn}"),
		Entry("a wrong unit", "north.battery.capacity=8 kW:12 kW:2", "kW is the unit of a power"),
		Entry("a value beyond", "north.battery.soc=90 %:110 %:3", "110 %"),
		Entry("a variable that is the bench's", "KILTER_BENCH=a,b", "must not set it"),
	)

	It("draws the same other sites for each setting, and lets what is varied have the last word", func() {
		p := plan(campaign.Controller{Policy: "steady"}, 1, "north.battery.capacity=8 kWh:12 kWh:2")
		a, unbuilt, err := p.Sites(0, 6, 0.2)
		Expect(err).NotTo(HaveOccurred())
		Expect(unbuilt).To(BeEmpty())
		Expect(a).To(HaveLen(2 * 6))
		b, _, err := p.Sites(sweep.Unvaried, 6, 0.2)
		Expect(err).NotTo(HaveOccurred())
		low, high := 1e9, 0.0
		for i := range a {
			place := func(c sweep.Case, path string) float64 {
				sc, err := scenarios.ParseScenario("other", []byte(c.Run.Scenario))
				Expect(err).NotTo(HaveOccurred())
				form, err := scenarios.NewForm(sc)
				Expect(err).NotTo(HaveOccurred())
				text, is := form.At(path)
				Expect(is).To(BeTrue())
				var v float64
				var unit string
				fmt.Sscanf(text, "%g %s", &v, &unit)
				if unit == "W" || unit == "Wh" {
					v /= 1000
				}
				return v
			}
			Expect(place(a[i], "north.battery.capacity")).To(Equal(8.0))
			Expect(place(a[i], "south.battery.capacity")).To(Equal(place(b[i], "south.battery.capacity")))
			v := place(b[i], "north.battery.capacity")
			low, high = min(low, v), max(high, v)
			Expect(place(a[i], "north.rating")).To(And(BeNumerically(">=", 4), BeNumerically("<=", 6)))
		}
		Expect(low).To(And(BeNumerically(">=", 8), BeNumerically("<", 9)))
		Expect(high).To(And(BeNumerically(">", 11), BeNumerically("<=", 12)))
	})

	It("says which other sites cannot be built, and goes on with the rest", func() {
		p := plan(campaign.Controller{Policy: "steady"}, 1, "north.battery.reserve=10 %:20 %:2")
		_, unbuilt, err := p.Sites(0, 4, 1.5) // figures below nothing
		Expect(err).NotTo(HaveOccurred())
		Expect(unbuilt).NotTo(BeEmpty())
		Expect(unbuilt[0]).To(MatchRegexp(`^calm-start, site \d: .*found -`))
	})

	It("scores a setting by its worst run, and tells goals in the direction of their bounds", func() {
		p := plan(steady, 3, "hold=30s:60s:2", "apart=3%:5%:2")
		cases, err := p.Cases()
		Expect(err).NotTo(HaveOccurred())
		results := played(p, cases)
		goal, err := sweep.FindGoal("import", results)
		Expect(err).NotTo(HaveOccurred())
		Expect(goal).To(Equal(sweep.Goal{Name: "import", Unit: "W"}))
		reserve, err := sweep.FindGoal("reserve", results)
		Expect(err).NotTo(HaveOccurred())
		Expect(reserve.More).To(BeTrue())
		_, err = sweep.FindGoal("warmth", results)
		Expect(err).To(MatchError(`the goal "warmth" is nothing that these stories find; there are share, writes_per_hour, reads_per_hour, import, reserve`))

		scores := p.Scores(cases, results, []sweep.Goal{goal, reserve})
		Expect(scores).To(HaveLen(4))
		Expect(scores[1].Share).To(Equal(verdict.Of(0.28)))
		Expect(scores[1].Mean).To(Equal(verdict.Of(0.29)))
		Expect(scores[1].Where()).To(Equal("import in calm-start, seed " + fmt.Sprint(p.Stories[0].Seed+2)))
		Expect(scores[1].Goals).To(Equal([]verdict.Number{verdict.Of(720), {}}))
		results[len(results)-1].Passed = false
		Expect(p.Scores(cases, results, nil)[3].Passed()).To(BeFalse())
	})

	It("writes a table of one row a run, the same bytes each time", func() {
		p := plan(steady, 2, "hold=30s:60s:2", "apart=3%:5%:2")
		cases, err := p.Cases()
		Expect(err).NotTo(HaveOccurred())
		results := played(p, cases)
		var once, twice bytes.Buffer
		Expect(p.WriteTable(&once, cases, results)).To(Succeed())
		Expect(p.WriteTable(&twice, cases, results)).To(Succeed())
		Expect(once.Bytes()).To(Equal(twice.Bytes()))
		file, err := parquet.OpenFile(bytes.NewReader(once.Bytes()), int64(once.Len()))
		Expect(err).NotTo(HaveOccurred())
		type line struct {
			Scenario string   `parquet:"scenario"`
			Apart    *string  `parquet:"set.apart,optional"`
			Figure   *float64 `parquet:"set.apart.figure,optional"`
			Share    float64  `parquet:"share"`
			Status   string   `parquet:"reserve.status"`
			Observed *float64 `parquet:"reserve.observed,optional"`
		}
		rows := make([]line, file.NumRows())
		_, err = parquet.NewGenericReader[line](bytes.NewReader(once.Bytes())).Read(rows)
		if err != nil {
			Expect(err).To(MatchError("EOF"))
		}
		Expect(rows).To(HaveLen(len(cases)))
		Expect(rows[0].Apart).To(BeNil())
		last := rows[len(rows)-1]
		Expect(last.Scenario).To(Equal("ev-start"))
		Expect(*last.Apart).To(Equal("5%"))
		Expect(*last.Figure).To(Equal(5.0))
		Expect(last.Share).To(BeNumerically("~", 0.49, 1e-12))
		Expect(last.Status).To(Equal("not_exercised"))
		Expect(last.Observed).To(BeNil())
	})
})

package falsify_test

import (
	"bytes"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/physics"
	"kilter/scenarios"
	"kilter/suites/campaign"
	"kilter/suites/falsify"
	"kilter/suites/report"
	"kilter/suites/verdict"
)

// ranges are two disturbances of calm-start, each with its time, and a charge.
const ranges = `format: 1
within: A load, a silence and a charge
parameters:
  load: {range: 200 W to 9 kW, plain: 700 W}
  load_at: {range: 2 min to 9 min}
  silent: {range: 0 s to 60 s, plain: 0 s, steps_of: 1 s}
  silent_at: {range: 2 min to 9 min}
  charge: {range: 10 % to 90 %, plain: as it stands}
changes:
  - happens: {at: $load_at, base: {power: $load}}
  - happens: {at: $silent_at, south: {fault: silent, lasts: $silent}}
  - {place: north.battery.soc, value: $charge}
`

func problem(text string) *falsify.Problem {
	GinkgoHelper()
	sc, err := scenarios.Builtin("calm-start")
	Expect(err).NotTo(HaveOccurred())
	w, err := scenarios.ParseWithin("ranges.yaml", []byte(text))
	Expect(err).NotTo(HaveOccurred())
	p, err := falsify.NewProblem(sc, w, campaign.Controller{Policy: "none"})
	Expect(err).NotTo(HaveOccurred())
	return p
}

// story is what a pretended bench looks at in a scenario.
type story struct{ loadW, silentS, loadS, charge float64 }

func read(run campaign.Run) story {
	GinkgoHelper()
	sc, err := scenarios.ParseScenario(run.Name, []byte(run.Scenario))
	Expect(err).NotTo(HaveOccurred())
	s := story{loadW: 700, charge: sc.Site.Plant.Inverters[0].Battery.InitialSOC}
	for _, e := range sc.Events {
		switch a := e.Action.(type) {
		case physics.SetLoad:
			s.loadW, s.loadS = a.PowerW, e.At.Seconds()
		}
		if e.Link != nil {
			s.silentS = e.Link.Lasts.Seconds()
		}
	}
	return s
}

// bench pretends to play runs, the last first.
func bench(judge func(story) []campaign.Finding) falsify.Play {
	return func(ctx context.Context, runs []campaign.Run, see func(int, *campaign.Result)) ([]*campaign.Result, error) {
		results := make([]*campaign.Result, len(runs))
		for i := range runs {
			i = len(runs) - 1 - i
			results[i] = &campaign.Result{Findings: judge(read(runs[i]))}
			if see != nil {
				see(i, results[i])
			}
		}
		return results, ctx.Err()
	}
}

func finding(name string, margin, limit float64) campaign.Finding {
	f := campaign.Finding{Name: name, Status: verdict.Passed, Margin: verdict.Of(margin), Limit: verdict.Of(limit), Unit: "W", Observed: verdict.Of(limit - margin)}
	if margin < 0 {
		f.Status, f.FirstS = verdict.Failed, verdict.Of(300)
	}
	return f
}

// importing fails where a large load comes late, while south is silent for long.
func importing(s story) []campaign.Finding {
	return []campaign.Finding{finding("import", 9000-s.loadW-50*s.silentS, 9000), finding("hunting.amplitude", 100+400*s.charge, 500)}
}

var _ = Describe("looking for a case that breaks a controller", func() {
	ctx := context.Background()
	find := func(p *falsify.Problem, play falsify.Play, opt falsify.Options) *falsify.Hunt {
		GinkgoHelper()
		h, err := falsify.Find(ctx, p, play, opt)
		Expect(err).NotTo(HaveOccurred())
		return h
	}

	It("begins with the scenario as it stands, and ends at the first case that fails", func() {
		h := find(problem(ranges), bench(importing), falsify.Options{Budget: 500, Seed: 1, Method: falsify.Adaptive, Shrinking: 200})
		Expect(h.Problem.Within.Changes(h.Trials[0].X)).To(BeEmpty())
		Expect(h.Cases).To(HaveLen(1))
		c := h.Cases[0]
		Expect(c.Criterion).To(Equal("import"))
		Expect(c.Share).To(BeNumerically("<", 0))
		Expect(c.Run).To(BeNumerically("<", 300))
	})

	It("makes the case small and round, and it still fails", func() {
		h := find(problem(ranges), bench(importing), falsify.Options{Budget: 500, Seed: 3, Method: falsify.Random, Shrinking: 200})
		c := h.Cases[0]
		needs := h.Problem.Needs(c.X)
		var names []string
		for _, n := range needs {
			names = append(names, n.Name)
		}
		Expect(names).NotTo(ContainElement("charge"), "it is of no matter")
		again := read(campaign.Run{Name: "again", Scenario: string(c.Scenario)})
		Expect(importing(again)[0].Status).To(Equal(verdict.Failed))
		Expect(c.Finding.Name).To(Equal("import"))
		Expect(9000-again.loadW-50*again.silentS).To(BeNumerically(">", -1500), "it fails by little")
	})

	It("looks at the same cases for the same seed, whatever order results come in", func() {
		cases := func(seed uint64, play falsify.Play) [][]float64 {
			h := find(problem(ranges), play, falsify.Options{Budget: 60, Seed: seed, Method: falsify.Adaptive})
			var all [][]float64
			for _, t := range h.Trials {
				all = append(all, t.X)
			}
			return all
		}
		holds := func(s story) []campaign.Finding { return []campaign.Finding{finding("import", 12000-s.loadW, 9000)} }
		forward := func(ctx context.Context, runs []campaign.Run, see func(int, *campaign.Result)) ([]*campaign.Result, error) {
			slices.Reverse(runs)
			results, err := bench(holds)(ctx, runs, see)
			slices.Reverse(runs)
			slices.Reverse(results)
			return results, err
		}
		Expect(cases(5, forward)).To(Equal(cases(5, bench(holds))))
		Expect(cases(6, forward)).NotTo(Equal(cases(5, bench(holds))))
	})

	It("finds nothing where nothing fails, and says what that shows and what not", func() {
		holds := func(s story) []campaign.Finding { return []campaign.Finding{finding("import", 9500-s.loadW, 9000)} }
		h := find(problem(ranges), bench(holds), falsify.Options{Budget: 120, Seed: 1, Method: falsify.Random})
		Expect(h.Cases).To(BeEmpty())
		Expect(h.Trials).To(HaveLen(120))
		text := strings.Join(h.Says(), "\n")
		Expect(text).To(ContainSubstring("No counterexample in 120 runs"))
		Expect(text).To(MatchRegexp(`The least margin met was 0\.\d+ of its scale, of import, in run \d+: load [89]`))
		Expect(text).To(ContainSubstring("It does not prove"))
		Expect(text).To(ContainSubstring("with 95 % confidence it fails in less than 2.5 % of them"), "three in 119, by the rule of three")
	})

	It("does not count what nothing could have prevented, and says in how many cases that was", func() {
		p := problem(ranges)
		h := find(p, bench(func(s story) []campaign.Finding {
			f := finding("import", 4000-s.loadW, 9000)
			f.Unavoidable = f.Status == verdict.Failed
			return []campaign.Finding{f}
		}), falsify.Options{Budget: 60, Seed: 1, Method: falsify.Random})
		Expect(h.Cases).To(BeEmpty())
		n, _ := h.Unjudged()
		Expect(n).To(BeNumerically(">", 10))
		Expect(strings.Join(h.Says(), "\n")).To(MatchRegexp(`In \d+ cases a criterion failed that the batteries could not have kept`))
	})

	It("counts neither way what cannot be built, and tells an example", func() {
		p := problem(strings.Replace(ranges, "load_at: {range: 2 min to 9 min}", "load_at: {range: 2 min to 35 min}", 1))
		h := find(p, bench(importing), falsify.Options{Budget: 40, Seed: 1, Method: falsify.Random})
		n, example := h.Unjudged()
		Expect(n).To(BeNumerically(">", 10))
		Expect(example).To(ContainSubstring("happens"))
		Expect(strings.Join(h.Says(), "\n")).To(ContainSubstring("could not be judged"))
	})

	It("says that nothing was shown where no case could be judged", func() {
		p := problem(ranges)
		p.Criterion = "export"
		h := find(p, bench(importing), falsify.Options{Budget: 5, Seed: 1, Method: falsify.Random})
		text := strings.Join(h.Says(), "\n")
		Expect(text).To(ContainSubstring("That shows nothing of the controller"))
		Expect(text).NotTo(ContainSubstring("held"))
	})

	It("knows the criteria that a scenario states, and those that a change adds", func() {
		Expect(problem(ranges).Stated()).To(And(ContainElements("import", "settle"), Not(ContainElement("export"))))
		more := strings.Replace(ranges, "changes:\n", "changes:\n  - {place: must.export.below, value: $load}\n", 1)
		Expect(problem(more).Stated()).To(ContainElement("export"))
	})

	It("goes on for cases of other criteria, and for one criterion alone", func() {
		both := func(s story) []campaign.Finding {
			return []campaign.Finding{finding("import", 6000-s.loadW, 9000), finding("hunting.amplitude", 45-s.silentS, 60), finding("settle", 100, 100)}
		}
		h := find(problem(ranges), bench(both), falsify.Options{Budget: 150, Seed: 1, Method: falsify.Adaptive, All: 3, Shrinking: 50})
		var failed []string
		for _, c := range h.Cases {
			failed = append(failed, c.Criterion)
		}
		Expect(failed).To(ConsistOf("import", "hunting"))
		Expect(h.Trials).To(HaveLen(150), "settle never fails")

		p := problem(ranges)
		p.Criterion = "hunting"
		h = find(p, bench(both), falsify.Options{Budget: 150, Seed: 1, Method: falsify.Adaptive})
		Expect(h.Cases).To(HaveLen(1))
		Expect(h.Cases[0].Clause).To(Equal("hunting.amplitude"))
	})

	It("takes a controller that dies as one that fails, and a fault of the bench as nothing", func() {
		dies := func(kind verdict.ErrorKind) falsify.Play {
			return func(_ context.Context, runs []campaign.Run, _ func(int, *campaign.Result)) ([]*campaign.Result, error) {
				results := make([]*campaign.Result, len(runs))
				for i := range runs {
					results[i] = &campaign.Result{}
					if read(runs[i]).silentS > 10 {
						results[i].FaultKind, results[i].Fault = kind, "it went"
					}
				}
				return results, nil
			}
		}
		h := find(problem(ranges), dies(verdict.ControllerDied), falsify.Options{Budget: 60, Seed: 1, Method: falsify.Random, Shrinking: 40})
		Expect(h.Cases).To(HaveLen(1))
		Expect(h.Cases[0].Criterion).To(Equal("controller_died"))
		h = find(problem(ranges), dies(verdict.BenchFault), falsify.Options{Budget: 60, Seed: 1, Method: falsify.Random})
		Expect(h.Cases).To(BeEmpty())
	})

	It("searches no controller that is gone in the scenario as it stands", func() {
		played := 0
		_, err := falsify.Find(ctx, problem(ranges), func(_ context.Context, runs []campaign.Run, _ func(int, *campaign.Result)) ([]*campaign.Result, error) {
			results := make([]*campaign.Result, len(runs))
			for i := range runs {
				results[i] = &campaign.Result{FaultKind: verdict.ControllerNeverCame, Fault: "it ended before it began"}
			}
			played += len(runs)
			return results, nil
		}, falsify.Options{Budget: 60, Seed: 1, Method: falsify.Adaptive})
		Expect(err).To(And(BeAssignableToTypeOf(&falsify.Absence{}), MatchError("it ended before it began")))
		Expect(played).To(Equal(2), "once, and once more")
	})

	It("does not believe in a death that it saw once alone", func() {
		seen := map[string]bool{}
		once := func(_ context.Context, runs []campaign.Run, _ func(int, *campaign.Result)) ([]*campaign.Result, error) {
			results := make([]*campaign.Result, len(runs))
			for i := range runs {
				results[i] = &campaign.Result{Findings: importing(story{loadW: 700})}
				if !seen[runs[i].Scenario] {
					results[i] = &campaign.Result{FaultKind: verdict.ControllerDied, Fault: "out of patience"}
				}
				seen[runs[i].Scenario] = true
			}
			return results, nil
		}
		h := find(problem(ranges), once, falsify.Options{Budget: 40, Seed: 1, Method: falsify.Random})
		Expect(h.Cases).To(BeEmpty())
		n, _ := h.Unjudged()
		Expect(n).To(BeZero())
	})

	It("keeps what was played where it is interrupted", func() {
		interrupted, stop := context.WithCancel(ctx)
		n := 0
		h, err := falsify.Find(interrupted, problem(ranges), func(ctx context.Context, runs []campaign.Run, see func(int, *campaign.Result)) ([]*campaign.Result, error) {
			if n += len(runs); n > 40 {
				stop()
			}
			return bench(func(story) []campaign.Finding { return []campaign.Finding{finding("import", 1, 9)} })(ctx, runs, see)
		}, falsify.Options{Budget: 500, Seed: 1, Method: falsify.Random})
		Expect(err).To(MatchError(context.Canceled))
		Expect(h.Trials).NotTo(BeEmpty())
	})

	It("ends with the error of the bench, and refuses a search that it does not know", func() {
		broken := errors.New("no bench")
		_, err := falsify.Find(ctx, problem(ranges), func(context.Context, []campaign.Run, func(int, *campaign.Result)) ([]*campaign.Result, error) {
			return nil, broken
		},
			falsify.Options{Budget: 9, Method: falsify.Adaptive})
		Expect(err).To(MatchError(broken))
		_, err = falsify.Find(ctx, problem(ranges), bench(importing), falsify.Options{Budget: 9, Method: "lucky"})
		Expect(err).To(MatchError(ContainSubstring("lucky")))
	})
})

var _ = Describe("what is told of a search", func() {
	hunt := func() *falsify.Hunt {
		GinkgoHelper()
		h, err := falsify.Find(context.Background(), problem(ranges), bench(importing), falsify.Options{Budget: 300, Seed: 2, Method: falsify.Random, Shrinking: 100})
		Expect(err).NotTo(HaveOccurred())
		return h
	}

	It("counts which parts of the ranges and which cells of pairs were met", func() {
		h := hunt()
		c := h.Coverage()
		Expect(c.Parameters).To(HaveLen(5))
		for k, p := range c.Parameters {
			sum := 0
			for _, n := range p.Counts {
				sum += n
			}
			Expect(sum).To(Equal(len(h.Trials)))
			for l := range c.Parameters {
				cells := map[string]bool{}
				for _, t := range h.Trials {
					cells[fmt.Sprint(math.Min(math.Floor(10*t.X[k]), 9), math.Min(math.Floor(10*t.X[l]), 9))] = true
				}
				if l != k {
					Expect(p.With[l]).To(BeNumerically("~", float64(len(cells))/100, 1e-9))
				}
			}
		}
		Expect(c.Pairs).To(Equal(1000), "ten pairs of five, a hundred cells each")
	})

	It("stands in a file a line a run, with what each clause came to", func() {
		h := hunt()
		var text bytes.Buffer
		Expect(h.WriteRuns(&text)).To(Succeed())
		lines, err := csv.NewReader(&text).ReadAll()
		Expect(err).NotTo(HaveOccurred())
		Expect(lines).To(HaveLen(len(h.Trials) + 1))
		Expect(lines[0]).To(Equal([]string{"run", "share", "of", "error", "load", "load_at", "silent", "silent_at", "charge", "import", "hunting.amplitude"}))
		Expect(lines[1][4]).To(Equal("700 W"))
	})

	page := func(h *falsify.Hunt, scenario string) string {
		GinkgoHelper()
		var text bytes.Buffer
		see := func(i int) string { return "kilter check " + falsify.CaseFile(i) + " --controller './a <b>'" }
		Expect(h.File(scenario).Page(h, see)(&text)).To(Succeed())
		return text.String()
	}

	It("is a page in the report's style, which takes what stands in the files for text", func() {
		text := page(hunt(), "<b>calm</b>")
		Expect(text).To(And(ContainSubstring("&lt;b&gt;calm&lt;/b&gt;"), ContainSubstring(report.Cautions[0])))
		Expect(text).NotTo(ContainSubstring("<b>calm"))
		Expect(text).NotTo(MatchRegexp(`(src|href)="?(https?:)?//`))
		Expect(strings.Count(text, "<svg")).To(Equal(3+5), "margins for a wide and a narrow column, the pairs, and a strip a parameter")
	})

	It("shows no pairs on its page where there is one parameter", func() {
		one := problem("format: 1\nwithin: A load\nparameters:\n  load: {range: 200 W to 9 kW, plain: 700 W}\nchanges:\n  - happens: {at: 5 min, base: {power: $load}}\n")
		h, err := falsify.Find(context.Background(), one, bench(importing), falsify.Options{Budget: 3, Seed: 1, Method: falsify.Random})
		Expect(err).NotTo(HaveOccurred())
		text := page(h, "calm")
		Expect(strings.Count(text, "<svg")).To(Equal(2 + 1))
		Expect(text).NotTo(ContainSubstring("pairs of parameters"))
	})

	It("shows on its page each case with the command that shows it failing, and that a margin lies beyond the scale", func() {
		h := hunt()
		h.Cases = nil
		for i := range h.Trials {
			h.Trials[i].Margin = falsify.Margin{Share: 0.5, Clause: "import"}
		}
		Expect(strings.Count(page(h, "calm"), ">−1</text>")).To(Equal(2))
		Expect(page(h, "calm")).NotTo(ContainSubstring("kilter check"))
		h.Trials[3].Margin = falsify.Margin{Share: -7.9, Clause: "import"}
		h.Cases = []*falsify.Counterexample{{Criterion: "import", Run: 4, X: h.Trials[3].X}}
		text := page(h, "calm")
		Expect(strings.Count(text, ">−1</text>")).To(BeZero())
		Expect(text).To(And(ContainSubstring(">≤ −1</text>"), ContainSubstring("<title>run 4: import −7.9</title>")))
		Expect(text).To(ContainSubstring("kilter check counterexample-1.yaml --controller &#39;./a &lt;b&gt;&#39;"))
	})
})

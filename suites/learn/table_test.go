package learn

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/suites/fieldlog"
)

// tally counts over many twins how one parameter was found.
type tally struct{ excited, called, calledExcited, good, held int }

func (t *tally) add(e Estimate, truth, within float64, excited bool) {
	if excited {
		t.excited++
	}
	if !e.Identifiable {
		return
	}
	t.called++
	if excited {
		t.calledExcited++
	}
	if math.Abs(e.Value-truth) <= within {
		t.good++
	}
	if e.holds(truth) {
		t.held++
	}
}

func share(a, b int) float64 { return float64(a) / math.Max(float64(b), 1) }

// outcome is what was found of many twins at one step.
type outcome struct {
	tallies                                                                  map[string]*tally
	cases, replayed, oscillating, period, amplitude, circulating, circulated int
	odd                                                                      []string
}

var figures = []string{"ramp", "dead time + lag", "loop gain", "loop period", "offset", "offset difference", "gain x offset"}

func result(w *twin, stepS float64) *Result {
	ws := newWorkshop(&w.record)
	r := &Result{
		Log:    &fieldlog.Log{File: "twin.csv", Start: time.Date(2026, 6, 18, 14, 0, 0, 0, time.UTC), StepS: stepS},
		Window: Window{0, len(w.record.GridW), w.record},
	}
	r.Units = ws.identify(func(float64) {})
	r.rest = ws.rest
	r.devices, r.jumps = trim(&w.record, ws.rest, ws.jumps, r.Units)
	for i, u := range w.record.Units {
		r.Log.Units = append(r.Log.Units, fieldlog.UnitLog{Name: u.Name})
		r.Batteries = append(r.Batteries, battery(&r.Log.Units[i], stepS, 0))
	}
	return r
}

func (o *outcome) take(w *twin, stepS float64, r *Result, p *Replay) {
	all := true
	for i, l := range r.Units {
		tr := w.truth(i)
		add := func(name string, e Estimate, truth, within float64, excited bool) {
			if o.tallies[name] == nil {
				o.tallies[name] = &tally{}
			}
			o.tallies[name].add(e, truth, within, excited)
		}
		perS := tr.Gain / tr.PeriodS
		add("ramp", l.Ramp, tr.RampWps, 0.1*tr.RampWps, w.ramps[i] >= 8)
		add("dead time + lag", l.Lateness, tr.DeadS+tr.LagS, 0.5, true)
		add("loop gain", l.Gain, perS, 0.15*perS, true)
		add("loop period", l.Period, tr.PeriodS, 1e-6, true)
		add("offset", l.Offset, tr.OffsetW, 3, true)
		add("gain x offset", l.Drive, perS*tr.OffsetW, math.Max(0.25*perS*math.Abs(tr.OffsetW), 0.5), true)
		all = all && l.Lateness.Identifiable && l.Gain.Identifiable && l.Offset.Identifiable
	}
	if o.tallies["offset difference"] == nil {
		o.tallies["offset difference"] = &tally{}
	}
	o.tallies["offset difference"].add(Difference(r.Units[0], r.Units[1]), w.truth(0).OffsetW-w.truth(1).OffsetW, 3, true)
	o.cases++
	if !all {
		return
	}
	o.replayed++
	a, b := p.Log, p.Model
	if a.Oscillation.Found {
		o.oscillating++
		if math.Abs(b.Oscillation.PeriodS/a.Oscillation.PeriodS-1) <= 0.05 {
			o.period++
		}
		if math.Abs(b.Oscillation.AmplitudeW/a.Oscillation.AmplitudeW-1) <= 0.15 {
			o.amplitude++
		}
	}
	if a.CirculatingW > 100 {
		o.circulating++
		if math.Abs(b.CirculatingWh-a.CirculatingWh) <= 0.1*a.CirculatingWh {
			o.circulated++
		}
	}
	o.odd = append(o.odd, fmt.Sprintf("%d: found %v period %.2f %.2f amplitude %.0f %.0f circulating %.1f %.1f explained %.3f %.3f", w.site.Seed, a.Oscillation.Found, a.Oscillation.PeriodS, b.Oscillation.PeriodS,
		a.Oscillation.AmplitudeW, b.Oscillation.AmplitudeW, a.CirculatingWh, b.CirculatingWh, p.Explain[0], p.Explain[1]))
}

// twins learns n random sites logged at a step.
func twins(n int, stepS, lastsS float64) *outcome {
	o := &outcome{tallies: map[string]*tally{}}
	var lock sync.Mutex
	var wait sync.WaitGroup
	gate := make(chan bool, runtime.GOMAXPROCS(0))
	folder := GinkgoT().TempDir()
	for seed := 1; seed <= n; seed++ {
		wait.Add(1)
		gate <- true
		go func() {
			defer GinkgoRecover()
			defer wait.Done()
			defer func() { <-gate }()
			w := newTwin(uint64(seed), stepS, lastsS)
			r := result(w, stepS)
			own := filepath.Join(folder, strconv.Itoa(seed))
			Expect(os.MkdirAll(own, 0o755)).To(Succeed())
			for name, text := range r.Files() {
				Expect(os.WriteFile(filepath.Join(own, name), text, 0o644)).To(Succeed())
			}
			p, err := r.Replay(filepath.Join(own, ScenarioFile))
			Expect(err).NotTo(HaveOccurred())
			lock.Lock()
			defer lock.Unlock()
			o.take(w, stepS, r, p)
		}()
	}
	wait.Wait()
	return o
}

// table shows what was found, a line a figure.
func (o *outcome) table(stepS float64) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%d sites, a value each %g s\n", o.cases, stepS)
	fmt.Fprintf(&b, "  %-18s %8s %10s %18s %12s %16s\n", "figure", "excited", "of these", "called", "within", "90 % interval")
	fmt.Fprintf(&b, "  %-18s %8s %10s %18s %12s %16s\n", "", "", "called", "identifiable", "tolerance", "holds the truth")
	for _, name := range figures {
		t := o.tallies[name]
		fmt.Fprintf(&b, "  %-18s %8d %8.0f %% %18d %10.0f %% %14.0f %%\n", name, t.excited, 100*share(t.calledExcited, t.excited), t.called, 100*share(t.good, t.called), 100*share(t.held, t.called))
	}
	fmt.Fprintf(&b, "  of %d sites whose devices are identifiable, %d oscillate: the scenario has the period within 5 %% in %.0f %%, the amplitude within 15 %% in %.0f %%\n",
		o.replayed, o.oscillating, 100*share(o.period, o.oscillating), 100*share(o.amplitude, o.oscillating))
	fmt.Fprintf(&b, "  and in %d more than 100 W circulate on average: the scenario has the energy within 10 %% in %.0f %%\n", o.circulating, 100*share(o.circulated, o.circulating))
	if os.Getenv("KILTER_TWINS_ODD") != "" {
		b.WriteString(strings.Join(o.odd, "\n") + "\n")
	}
	return b.String()
}

// sites is how many twins are made at each step: KILTER_TWINS of them, 200 for the whole table.
func sites(otherwise int) int {
	if n, err := strconv.Atoi(os.Getenv("KILTER_TWINS")); err == nil {
		return n
	}
	if testing.Short() {
		return min(otherwise, 2)
	}
	return otherwise
}

var _ = Describe("twins: random sites of the bench, learned from their logs", func() {
	for _, c := range []struct {
		stepS, lastsS float64
		few           int
	}{{1, 900, 10}, {5, 3600, 2}, {10, 7200, 1}, {60, 14400, 1}} {
		It(fmt.Sprintf("finds what a value each %g s can carry, and claims no more", c.stepS), func() {
			n := sites(c.few)
			o := twins(n, c.stepS, c.lastsS)
			text := o.table(c.stepS)
			AddReportEntry("twins", text)
			GinkgoWriter.Print(text)
			if file := os.Getenv("KILTER_TWINS_TABLE"); file != "" {
				f, err := os.OpenFile(file, os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o644)
				Expect(err).NotTo(HaveOccurred())
				_, err = f.WriteString(text)
				Expect(err).NotTo(HaveOccurred())
				Expect(f.Close()).To(Succeed())
			}
			for _, name := range []string{"ramp", "dead time + lag", "loop gain", "offset difference"} {
				t := o.tallies[name]
				if t.called >= 10 {
					Expect(share(t.good, t.called)).To(BeNumerically(">=", 0.9), "%s: within tolerance\n%s", name, text)
				}
				if c.stepS == 1 {
					Expect(share(t.calledExcited, t.excited)).To(BeNumerically(">=", 0.6), "%s: called identifiable\n%s", name, text)
				}
				if t.called >= 100 {
					Expect(share(t.held, t.called)).To(And(BeNumerically(">=", 0.8), BeNumerically("<=", 0.97)), "%s: coverage\n%s", name, text)
				}
			}
			// The aim is 0.9 of all three. Period and amplitude are short of it: see ../README.md.
			if o.oscillating >= 10 {
				Expect(share(o.period, o.oscillating)).To(BeNumerically(">=", 0.8), "%s", text)
				Expect(share(o.amplitude, o.oscillating)).To(BeNumerically(">=", 0.8), "%s", text)
			}
			if o.circulating >= 10 {
				Expect(share(o.circulated, o.circulating)).To(BeNumerically(">=", 0.9), "%s", text)
			}
		})
	}
})

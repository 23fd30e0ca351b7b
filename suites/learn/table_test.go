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
	tallies                         map[string]*tally
	cases, known                    int // sites; those whose devices are identifiable
	oscillating, swing              int // of these, those that oscillate; those whose swing is not chance
	period, amplitude, both         int
	circulating, steady, circulated int
	odd                             []string
}

var figures = []string{"largest power", "ramp", "dead time + lag", "loop gain", "loop period", "offset", "offset difference", "gain x offset"}

func result(w *twin, stepS float64) *Result {
	ws := newWorkshop(&w.record)
	r := &Result{
		Log:    &fieldlog.Log{File: "twin.csv", Start: time.Date(2026, 6, 18, 14, 0, 0, 0, time.UTC), StepS: stepS},
		Window: Window{0, len(w.record.GridW), w.record},
	}
	r.Units = ws.identify(func(float64) {})
	r.rest, r.jumps = ws.rest, ws.jumps
	for i, u := range w.record.Units {
		r.Log.Units = append(r.Log.Units, fieldlog.UnitLog{Name: u.Name})
		r.Batteries = append(r.Batteries, battery(&r.Log.Units[i], stepS, 0))
	}
	return r
}

// replay writes the scenario to a folder and runs it.
func (r *Result) replay(folder string) *Replay {
	Expect(os.MkdirAll(folder, 0o755)).To(Succeed())
	r.devices, r.jumps = trim(&r.Window.Record, r.rest, r.jumps, r.Units)
	for name, text := range r.Files() {
		Expect(os.WriteFile(filepath.Join(folder, name), text, 0o644)).To(Succeed())
	}
	p, err := r.Replay(filepath.Join(folder, ScenarioFile))
	Expect(err).NotTo(HaveOccurred())
	return p
}

func (o *outcome) take(w *twin, stepS float64, r *Result, p *Replay) {
	for i, l := range r.Units {
		tr := w.truth(i)
		add := func(name string, e Estimate, truth, within float64, excited bool) {
			if o.tallies[name] == nil {
				o.tallies[name] = &tally{}
			}
			o.tallies[name].add(e, truth, within, excited)
		}
		perS := tr.Gain / tr.PeriodS
		add("largest power", l.most, tr.ChargeW, 0.15*tr.ChargeW, false)
		add("ramp", l.Ramp, tr.RampWps, 0.1*tr.RampWps, w.ramps[i] >= 8)
		add("dead time + lag", l.Lateness, tr.DeadS+tr.LagS, 0.5, true)
		add("loop gain", l.Gain, perS, 0.15*perS, true)
		add("loop period", l.Period, tr.PeriodS, 1e-6, true)
		add("offset", l.Offset, tr.OffsetW, 3, true)
		add("gain x offset", l.Drive, perS*tr.OffsetW, math.Max(0.25*perS*math.Abs(tr.OffsetW), 0.5), true)
	}
	if o.tallies["offset difference"] == nil {
		o.tallies["offset difference"] = &tally{}
	}
	o.tallies["offset difference"].add(Difference(r.Units[0], r.Units[1]), w.truth(0).OffsetW-w.truth(1).OffsetW, 3, true)
	o.cases++
	if !r.told() {
		return
	}
	o.known++
	a, b := p.Log, p.Model
	if a.Oscillation.Found {
		o.oscillating++
	}
	if a.Oscillation.Found && p.Scatter.Swing() {
		o.swing++
		period := math.Abs(b.Oscillation.PeriodS/a.Oscillation.PeriodS-1) <= 0.05
		amplitude := math.Abs(b.Oscillation.AmplitudeW/a.Oscillation.AmplitudeW-1) <= 0.15
		if period {
			o.period++
		}
		if amplitude {
			o.amplitude++
		}
		if period && amplitude {
			o.both++
		}
	}
	if a.CirculatingW > 100 {
		o.circulating++
	}
	if a.CirculatingW > 100 && p.Scatter.CirculatingWh.Identifiable {
		o.steady++
		if math.Abs(b.CirculatingWh-a.CirculatingWh) <= 0.1*a.CirculatingWh {
			o.circulated++
		}
	}
	o.odd = append(o.odd, fmt.Sprintf("%d: found %v swing %v circulation %v period %.2f %.2f amplitude %.0f %.0f circulating %.1f %.1f explained %.3f %.3f", w.site.Seed, a.Oscillation.Found, p.Scatter.Swing(), p.Scatter.CirculatingWh.Identifiable, a.Oscillation.PeriodS, b.Oscillation.PeriodS,
		a.Oscillation.AmplitudeW, b.Oscillation.AmplitudeW, a.CirculatingWh, b.CirculatingWh, p.Explain[0], p.Explain[1]))
}

// twins learns n random sites logged at a step.
func twins(n int, stepS, lastsS float64) *outcome {
	o := &outcome{tallies: map[string]*tally{}}
	var lock sync.Mutex
	var wait sync.WaitGroup
	gate := make(chan bool, runtime.GOMAXPROCS(0))
	folder := GinkgoT().TempDir()
	first := number("KILTER_TWINS_FIRST", 1)
	for seed := first; seed < first+n; seed++ {
		wait.Add(1)
		gate <- true
		go func() {
			defer GinkgoRecover()
			defer wait.Done()
			defer func() { <-gate }()
			w := newTwin(uint64(seed), stepS, lastsS)
			r := result(w, stepS)
			var p *Replay
			if r.told() || seed == first { // what is written must run in any case
				p = r.replay(filepath.Join(folder, strconv.Itoa(seed)))
			}
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
	fmt.Fprintf(&b, "  of %d sites whose devices are identifiable, %d oscillate, %d in a way that the meters' noise does not change:\n", o.known, o.oscillating, o.swing)
	fmt.Fprintf(&b, "    the scenario has the period within 5 %% in %d, the amplitude within 15 %% in %d, both in %d\n", o.period, o.amplitude, o.both)
	fmt.Fprintf(&b, "  in %d of them more than 100 W circulate on average, in %d in a way that noise does not change: the scenario has the energy within 10 %% in %d\n", o.circulating, o.steady, o.circulated)
	if os.Getenv("KILTER_TWINS_ODD") != "" {
		b.WriteString(strings.Join(o.odd, "\n") + "\n")
	}
	return b.String()
}

// number is an environment variable's, or otherwise.
func number(name string, otherwise int) int {
	if n, err := strconv.Atoi(os.Getenv(name)); err == nil {
		return n
	}
	return otherwise
}

// sites is how many twins are made at each step: KILTER_TWINS of them, 200 for the whole table.
func sites(otherwise int) int {
	if testing.Short() {
		otherwise = min(otherwise, 2)
	}
	return number("KILTER_TWINS", otherwise)
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
			if o.swing >= 10 {
				Expect(share(o.both, o.swing)).To(BeNumerically(">=", 0.9), "%s", text)
			}
			if o.steady >= 10 {
				Expect(share(o.circulated, o.steady)).To(BeNumerically(">=", 0.9), "%s", text)
			}
		})
	}
})

package formula_test

import (
	"fmt"
	"math"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"

	"kilter/suites/formula"
)

// sentence is a random formula, and the same said as plain loops over a whole trace.
type sentence struct {
	text string
	// margin is at an instant. After the trace's end each comparison has the margin beyond, with its sign turned round where
	// the comparison counts the other way.
	margin func(trace [][]float64, at int, beyond float64) float64
}

var pair = []formula.Signal{{Name: "a"}, {Name: "b"}}

// sentences draws a formula. Only one that stands at the start of the run may look to its end.
func sentences(t *rapid.T, depth int, whole bool) sentence {
	kinds := []string{"compare"}
	if depth > 0 {
		kinds = []string{"compare", "not", "and", "or", "implies", "always", "eventually", "until"}
	}
	switch kind := rapid.SampledFrom(kinds).Draw(t, "kind"); kind {
	case "not":
		x := sentences(t, depth-1, whole)
		return sentence{"not (" + x.text + ")", func(trace [][]float64, at int, beyond float64) float64 {
			return -x.margin(trace, at, -beyond)
		}}
	case "and", "or", "implies":
		x, y := sentences(t, depth-1, whole), sentences(t, depth-1, whole)
		return sentence{"(" + x.text + ") " + kind + " (" + y.text + ")", func(trace [][]float64, at int, beyond float64) float64 {
			b := y.margin(trace, at, beyond)
			switch kind {
			case "or":
				return max(x.margin(trace, at, beyond), b)
			case "implies":
				return max(-x.margin(trace, at, -beyond), b)
			}
			return min(x.margin(trace, at, beyond), b)
		}}
	case "always", "eventually":
		w, from, to := windows(t, whole)
		x := sentences(t, depth-1, false)
		return sentence{kind + w + " (" + x.text + ")", func(trace [][]float64, at int, beyond float64) float64 {
			end := at + to
			if to < 0 {
				end = len(trace) - 1
			}
			best := beyond // of a window that is empty
			for k := at + from; k <= end; k++ {
				m := x.margin(trace, k, beyond)
				if k == at+from || (m < best) == (kind == "always") {
					best = m
				}
			}
			return best
		}}
	case "until":
		w, from, to := windows(t, whole)
		x, y := sentences(t, depth-1, false), sentences(t, depth-1, false)
		return sentence{"(" + x.text + ") until" + w + " (" + y.text + ")", func(trace [][]float64, at int, beyond float64) float64 {
			end := at + to
			if to < 0 {
				end = len(trace) - 1
			}
			best := math.Inf(-1)
			for k := at + from; k <= end; k++ {
				m := y.margin(trace, k, beyond)
				for i := at; i <= k; i++ {
					m = min(m, x.margin(trace, i, beyond))
				}
				best = max(best, m)
			}
			if at+from > end { // empty: nothing is known but that what must hold did so far
				best = beyond
				for i := at; beyond > 0 && i < len(trace); i++ {
					best = min(best, x.margin(trace, i, beyond))
				}
			}
			return best
		}}
	}
	signal := rapid.SampledFrom([]string{"a", "b"}).Draw(t, "signal")
	limit := rapid.IntRange(-5, 5).Draw(t, "limit")
	sign := rapid.SampledFrom([]string{"<", ">="}).Draw(t, "sign")
	index := map[string]int{"a": 0, "b": 1}[signal]
	text := fmt.Sprintf("%s %s %d", signal, sign, limit)
	if limit < 0 {
		text = fmt.Sprintf("%s %s -%d", signal, sign, -limit)
	}
	return sentence{text, func(trace [][]float64, at int, beyond float64) float64 {
		if at >= len(trace) {
			return beyond
		}
		if sign == "<" {
			return float64(limit) - trace[at][index]
		}
		return trace[at][index] - float64(limit)
	}}
}

// windows draws a window; to is negative where it is open.
func windows(t *rapid.T, whole bool) (text string, from, to int) {
	from = rapid.IntRange(0, 4).Draw(t, "from")
	if whole && rapid.Bool().Draw(t, "open") {
		if from == 0 {
			return "", 0, -1
		}
		return fmt.Sprintf(" from %d s", from), from, -1
	}
	to = from + rapid.IntRange(0, 4).Draw(t, "wide")
	if from == 0 {
		return fmt.Sprintf(" within %d s", to), from, to
	}
	return fmt.Sprintf(" in %d s..%d s", from, to), from, to
}

var _ = Describe("a formula's monitor", func() {
	It("agrees with loops over the whole trace, for any formula and trace", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			s := sentences(t, 3, true)
			trace := rapid.SliceOfN(rapid.SliceOfN(rapid.Map(rapid.IntRange(-6, 6), func(n int) float64 { return float64(n) }), 2, 2), 1, 40).Draw(t, "trace")
			f, err := formula.Parse(s.text, pair)
			if err != nil {
				t.Fatalf("%s: %v", s.text, err)
			}
			m, err := f.Monitor(time.Second)
			if err != nil {
				t.Fatalf("%s: %v", s.text, err)
			}
			broken := false
			for _, row := range trace {
				_, is := m.Broken()
				broken = is || broken
				if broken != is {
					t.Fatalf("%s over %v: violated, and then not", s.text, trace)
				}
				m.Observe(row)
			}
			for range 2 { // it changes nothing
				got := m.Outcome()
				lower, upper := s.margin(trace, 0, math.Inf(-1)), s.margin(trace, 0, math.Inf(1))
				if got.Lower != lower || got.Upper != upper {
					t.Fatalf("%s over %v: margin %v to %v, by loops %v to %v", s.text, trace, got.Lower, got.Upper, lower, upper)
				}
				if broken && upper >= 0 {
					t.Fatalf("%s over %v: violated early, with a margin up to %v", s.text, trace, upper)
				}
			}
		})
	})

	It("keeps no more for a longer run, and allocates nothing", func() {
		f, err := formula.Parse("always (a < 0 implies ((b > -4 until in 3 s..9 s a >= 0) or eventually within 20 s always for 5 s b > 1))", pair)
		Expect(err).NotTo(HaveOccurred())
		m, err := f.Monitor(time.Second)
		Expect(err).NotTo(HaveOccurred())
		row, n := make([]float64, 2), 0
		observe := func() {
			n++
			row[0], row[1] = float64(n*7919%13-6), float64(n*104729%11-5)
			m.Observe(row)
		}
		for range 1000 {
			observe()
		}
		Expect(allocations(1000, observe)).To(BeZero())
	})
})

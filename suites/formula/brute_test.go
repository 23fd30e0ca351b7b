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
	// margin is at an instant; false where the trace ends too early.
	margin func(trace [][]float64, at int) (float64, bool)
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
		return sentence{"not (" + x.text + ")", func(trace [][]float64, at int) (float64, bool) {
			m, known := x.margin(trace, at)
			return -m, known
		}}
	case "and", "or", "implies":
		x, y := sentences(t, depth-1, whole), sentences(t, depth-1, whole)
		return sentence{"(" + x.text + ") " + kind + " (" + y.text + ")", func(trace [][]float64, at int) (float64, bool) {
			a, knownA := x.margin(trace, at)
			b, knownB := y.margin(trace, at)
			switch kind {
			case "or":
				return max(a, b), knownA && knownB
			case "implies":
				return max(-a, b), knownA && knownB
			}
			return min(a, b), knownA && knownB
		}}
	case "always", "eventually":
		w, from, to := windows(t, whole)
		x := sentences(t, depth-1, false)
		return sentence{kind + w + " (" + x.text + ")", func(trace [][]float64, at int) (float64, bool) {
			best, known := math.NaN(), false
			for k := at + from; to < 0 || k <= at+to; k++ {
				m, is := x.margin(trace, k)
				if !is {
					return best, known && to < 0
				}
				if !known || (m < best) == (kind == "always") {
					best, known = m, true
				}
			}
			return best, true
		}}
	case "until":
		w, from, to := windows(t, whole)
		x, y := sentences(t, depth-1, false), sentences(t, depth-1, false)
		return sentence{"(" + x.text + ") until" + w + " (" + y.text + ")", func(trace [][]float64, at int) (float64, bool) {
			best, known := math.NaN(), false
			for k := at + from; to < 0 || k <= at+to; k++ {
				m, is := y.margin(trace, k)
				for i := at; is && i <= k; i++ {
					var hold float64
					if hold, is = x.margin(trace, i); is {
						m = min(m, hold)
					}
				}
				if !is {
					return best, known && to < 0
				}
				if !known || m > best {
					best, known = m, true
				}
			}
			return best, true
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
	return sentence{text, func(trace [][]float64, at int) (float64, bool) {
		if at >= len(trace) {
			return 0, false
		}
		if sign == "<" {
			return float64(limit) - trace[at][index], true
		}
		return trace[at][index] - float64(limit), true
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
			for _, row := range trace {
				m.Observe(row)
			}
			want, wantKnown := s.margin(trace, 0)
			got, _, known := m.Margin()
			if known != wantKnown || known && got != want {
				t.Fatalf("%s over %v: margin %v (known: %v), by loops %v (known: %v)", s.text, trace, got, known, want, wantKnown)
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

package formula

import (
	"fmt"
	"time"
)

// Monitor judges a run by a formula, step by step. Its memory depends on the formula's windows and not on the run's
// length.
type Monitor struct {
	of      verdict
	signals int
	tick    int64
}

// Monitor makes a monitor for runs of a step. The formula's times must be multiples of it.
func (f *Formula) Monitor(step time.Duration) (*Monitor, error) {
	c := compiler{step: step}
	m := &Monitor{of: c.verdict(f.root), signals: f.signals}
	return m, c.err
}

// Observe takes the signals of the next step, in the order in which Parse was given them.
func (m *Monitor) Observe(values []float64) {
	m.of.observe(values)
	m.tick++
}

// Steps is how many were observed.
func (m *Monitor) Steps() int64 { return m.tick }

// Margin is by how much the formula holds for what was observed so far, and the step, counted from 0, at which it came to
// this; known is false where the run was too short to tell.
func (m *Monitor) Margin() (margin float64, at int64, known bool) { return m.of.margin() }

// verdict is the margin of a part at the start of the run.
type verdict interface {
	observe(values []float64)
	margin() (m float64, at int64, known bool)
}

// atStart is a part that looks no further than its windows.
type atStart struct {
	of   stream
	m    float64
	done bool
}

func (v *atStart) observe(values []float64) {
	if !v.done {
		v.m, v.done = v.of.push(values)
	}
}

func (v *atStart) margin() (float64, int64, bool) { return v.m, 0, v.done }

// leastSoFar is always over the rest of the run; with times -1 it is eventually.
type leastSoFar struct {
	of        stream
	from      int64
	times     float64
	index, at int64
	m         float64
	known     bool
}

func (v *leastSoFar) observe(values []float64) {
	m, is := v.of.push(values)
	if !is {
		return
	}
	if m *= v.times; v.index >= v.from && (!v.known || m < v.m) {
		v.m, v.at, v.known = m, v.index, true
	}
	v.index++
}

func (v *leastSoFar) margin() (float64, int64, bool) { return v.m * v.times, v.at, v.known }

// untilSoFar is until over the rest of the run.
type untilSoFar struct {
	*pairing
	from        int64
	index, at   int64
	least, best float64
	known       bool
}

func (v *untilSoFar) observe(values []float64) {
	a, b, is := v.push(values)
	if !is {
		return
	}
	if v.index == 0 || a < v.least {
		v.least = a
	}
	if m := min(b, v.least); v.index >= v.from && (!v.known || m > v.best) {
		v.best, v.at, v.known = m, v.index, true
	}
	v.index++
}

func (v *untilSoFar) margin() (float64, int64, bool) { return v.best, v.at, v.known }

type oppositeVerdict struct{ verdict }

func (v oppositeVerdict) margin() (float64, int64, bool) {
	m, at, known := v.verdict.margin()
	return -m, at, known
}

type bothVerdict struct{ a, b verdict }

func (v bothVerdict) observe(values []float64) {
	v.a.observe(values)
	v.b.observe(values)
}

func (v bothVerdict) margin() (float64, int64, bool) {
	a, atA, knownA := v.a.margin()
	b, atB, knownB := v.b.margin()
	if b < a {
		a, atA = b, atB
	}
	return a, atA, knownA && knownB
}

// compiler makes what judges of a formula.
type compiler struct {
	step time.Duration
	err  error
}

// steps is a time in steps.
func (c *compiler) steps(w window, d time.Duration) int64 {
	if d%c.step != 0 && c.err == nil {
		c.err = &Error{w.column, fmt.Sprintf("a time of %v", d), fmt.Sprintf("a multiple of the step of %v", c.step)}
	}
	return int64(d / c.step)
}

func (c *compiler) verdict(x logic) verdict {
	switch x := x.(type) {
	case opposite:
		return oppositeVerdict{c.verdict(x.of)}
	case both:
		return bothVerdict{c.verdict(x.a), c.verdict(x.b)}
	case temporal:
		if x.open {
			return &leastSoFar{of: c.stream(x.of), from: c.steps(x.window, x.from), times: sense(x.always)}
		}
	case until:
		if x.open {
			return &untilSoFar{pairing: newPairing(c.stream(x.holds), c.stream(x.then)), from: c.steps(x.window, x.from)}
		}
	}
	return &atStart{of: c.stream(x)}
}

func (c *compiler) stream(x logic) stream {
	switch x := x.(type) {
	case opposite:
		return oppositeStream{c.stream(x.of)}
	case both:
		return bothStream{newPairing(c.stream(x.a), c.stream(x.b))}
	case temporal:
		from, to := c.steps(x.window, x.from), c.steps(x.window, x.to)
		return &leastStream{of: c.stream(x.of), from: from, to: to, times: sense(x.always), over: newSlidingLeast(to - from + 1)}
	case until:
		from, to := c.steps(x.window, x.from), c.steps(x.window, x.to)
		return &untilStream{
			pairing: newPairing(c.stream(x.holds), c.stream(x.then)),
			from:    from, to: to,
			early:  newRing(to - from + 2),
			before: newSlidingLeast(from),
			inside: newSlidingUntil(to - from + 1),
		}
	}
	return comparisonStream{x.(comparison)}
}

// sense is 1 where the least is sought, and -1 where the greatest is.
func sense(least bool) float64 {
	if least {
		return 1
	}
	return -1
}

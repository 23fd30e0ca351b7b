package formula

import (
	"fmt"
	"time"
)

const (
	// longestWindow bounds how far a sentence looks ahead, in one window and in all that stand within each other.
	longestWindow = 24 * time.Hour
	// mostKept bounds the numbers that a monitor remembers: 64 MiB of them.
	mostKept = 8 << 20
)

// compiler makes what judges of a formula, for one step.
type compiler struct {
	step        time.Duration
	kept        int64
	conditional bool // there is an implies
	tally       *tally
	err         error
}

func (c *compiler) fail(w window, found, wanted string) {
	if c.err == nil {
		c.err = wrong(w.column, found, wanted)
	}
}

// steps is a time in steps.
func (c *compiler) steps(w window, d time.Duration) int64 {
	if d%c.step != 0 {
		c.fail(w, fmt.Sprintf("a time of %v", d), fmt.Sprintf("a multiple of the step of %v", c.step))
	}
	return int64(d / c.step)
}

// span is a window in steps.
func (c *compiler) span(w window) (from, to int64) {
	from = c.steps(w, w.from)
	if w.open {
		return from, toTheEnd
	}
	return from, c.steps(w, w.to)
}

// measure is how far a part looks ahead, in steps. It says whether the formula's times fit the step, and its windows into
// memory.
func (c *compiler) measure(x logic, at place) int64 {
	pair := func(a, b logic, at place) int64 {
		p, q := c.measure(a, at), c.measure(b, at)
		c.kept += max(p, q) - min(p, q)
		return max(p, q)
	}
	look := func(w window, ahead, each int64) int64 {
		from, to := c.span(w)
		if w.open {
			return ahead
		}
		if at == inner {
			c.kept += each * (to + 1)
		}
		if to-from < 0 || ahead+to > int64(longestWindow/c.step) {
			c.fail(w, "a look of more than "+longestWindow.String()+" ahead in all", "shorter windows")
		} else if c.kept > mostKept {
			c.fail(w, fmt.Sprintf("windows that keep more than %d numbers in mind", mostKept), "shorter windows, or a longer step")
		}
		if at == whole {
			return ahead
		}
		return ahead + to
	}
	switch x := x.(type) {
	case opposite:
		return c.measure(x.of, at)
	case both:
		return pair(x.a, x.b, at)
	case implication:
		c.conditional = true
		return pair(x.a, x.b, at)
	case temporal:
		return look(x.window, c.measure(x.of, inner), 2)
	case until:
		return look(x.window, pair(x.holds, x.then, inner), 5)
	}
	return 0
}

// verdict makes what judges a part at the start of the run.
func (c *compiler) verdict(x logic, polarity float64) verdict {
	switch x := x.(type) {
	case opposite:
		return oppositeVerdict{c.verdict(x.of, -polarity)}
	case both:
		return bothVerdict{c.verdict(x.a, polarity), c.verdict(x.b, polarity)}
	case implication:
		return implicationVerdict{bothVerdict{c.verdict(x.a, -polarity), c.verdict(x.b, polarity)}}
	case temporal:
		from, to := c.span(x.window)
		return &overRun{course: course{from: from, to: to}, of: c.stream(x.of, polarity), times: sense(x.always)}
	case until:
		from, to := c.span(x.window)
		return &untilOverRun{pairing: newPairing(c.stream(x.holds, polarity), c.stream(x.then, polarity)), course: course{from: from, to: to}, fell: -1, held: -1}
	}
	return &atStart{of: c.stream(x, polarity)}
}

// stream makes what judges a part at each instant.
func (c *compiler) stream(x logic, polarity float64) stream {
	switch x := x.(type) {
	case opposite:
		return oppositeStream{c.stream(x.of, -polarity)}
	case both:
		return bothStream{newPairing(c.stream(x.a, polarity), c.stream(x.b, polarity))}
	case implication:
		return implicationStream{newPairing(c.stream(x.a, -polarity), c.stream(x.b, polarity)), c.tally}
	case temporal:
		from, to := c.span(x.window)
		return &leastStream{of: c.stream(x.of, polarity), from: from, to: to, times: sense(x.always), over: newSlidingLeast(to - from + 1)}
	case until:
		from, to := c.span(x.window)
		return &untilStream{
			pairing: newPairing(c.stream(x.holds, polarity), c.stream(x.then, polarity)),
			from:    from, to: to,
			early:  newRing(to - from + 2),
			before: newSlidingLeast(from),
			inside: newSlidingUntil(to - from + 1),
		}
	}
	return comparisonStream{x.(comparison), polarity}
}

// sense is 1 where the least is sought, and -1 where the greatest is.
func sense(least bool) float64 {
	if least {
		return 1
	}
	return -1
}

package formula

import (
	"math"
)

// outcome is what is known of a part at the start of the run. Instants are steps, counted from 0.
type outcome struct {
	lower, upper float64 // the margin lies between
	at           int64   // the instant that decides it
	broke        int64   // the first that violates it, where upper is negative
	held         int64   // the one with which it holds for sure, where lower is not negative
}

func (o outcome) opposite() outcome {
	return outcome{-o.upper, -o.lower, o.at, o.held, o.broke}
}

// and is the outcome of both.
func (o outcome) and(x outcome) outcome {
	r := outcome{min(o.lower, x.lower), min(o.upper, x.upper), o.at, o.broke, max(o.held, x.held)}
	if x.upper < o.upper {
		r.at = x.at
	}
	if x.upper < 0 && (o.upper >= 0 || x.broke < o.broke) {
		r.broke = x.broke
	}
	return r
}

// verdict is a part that is judged at the start of the run.
type verdict interface {
	observe(values []float64, how future)
	// now is what is known so far.
	now() outcome
	// occasions counts those on which it could have failed; where the sentence has an implies, those that such a
	// condition made.
	occasions(conditional bool) int64
	clone(t *tally) verdict
	// end closes windows over the rest of a run of so many steps.
	end(steps int64)
	// wants is how many samples tell all.
	wants() int64
}

// atStart is a part that looks no further than its windows.
type atStart struct {
	of   stream
	m    float64
	done bool
}

func (v *atStart) observe(values []float64, how future) {
	if !v.done {
		v.m, v.done = v.of.push(values, how)
	}
}

func (v *atStart) now() outcome {
	if !v.done {
		return outcome{lower: math.Inf(-1), upper: math.Inf(1)}
	}
	return outcome{lower: v.m, upper: v.m}
}

func (v *atStart) occasions(conditional bool) int64 {
	if conditional || !v.done {
		return 0
	}
	return 1
}

func (v *atStart) clone(t *tally) verdict { return &atStart{v.of.clone(t), v.m, v.done} }
func (v *atStart) end(int64)              {}
func (v *atStart) wants() int64           { return v.of.ahead() + 1 }

// toTheEnd is the last instant of a window over the rest of a run that goes on.
const toTheEnd = math.MaxInt64

// course is how far a window that begins at the start has been looked through.
type course struct {
	from, to int64
	index    int64 // of the next margin
}

func (c *course) occasions(conditional bool) int64 {
	if conditional {
		return 0
	}
	return max(0, c.index-c.from)
}

func (c *course) end(steps int64) {
	if c.to == toTheEnd {
		c.to = steps - 1
	}
}

// overRun is always over a window that begins at the start; with times -1 it is eventually.
type overRun struct {
	course
	of    stream
	times float64
	at    int64
	first int64 // where a margin was below 0 first
	m     float64
	known bool
}

func (v *overRun) observe(values []float64, how future) {
	if v.index > v.to {
		return
	}
	m, is := v.of.push(values, how)
	if !is {
		return
	}
	if m *= v.times; v.index >= v.from {
		if m < 0 && (!v.known || v.m >= 0) {
			v.first = v.index
		}
		if !v.known || m < v.m {
			v.m, v.at, v.known = m, v.index, true
		}
	}
	v.index++
}

func (v *overRun) now() outcome {
	o := outcome{math.Inf(-1), math.Inf(1), v.at, v.first, v.to}
	if v.known {
		o.upper = v.m
	}
	if v.known && v.index > v.to {
		o.lower = v.m
	}
	if v.times < 0 {
		return o.opposite()
	}
	return o
}

func (v *overRun) clone(t *tally) verdict {
	c := *v
	c.of = v.of.clone(t)
	return &c
}

func (v *overRun) wants() int64 { return v.to + v.of.ahead() + 1 }

// untilOverRun is until over a window that begins at the start.
type untilOverRun struct {
	course
	*pairing
	at          int64
	fell, held  int64 // where what must hold first did not, and where the sentence first held; -1 is nowhere yet
	least, best float64
	known       bool
}

func (v *untilOverRun) observe(values []float64, how future) {
	if v.index > v.to {
		return
	}
	a, b, is := v.push(values, how)
	if !is {
		return
	}
	if v.index == 0 || a < v.least {
		v.least = a
	}
	if v.least < 0 && v.fell < 0 {
		v.fell = v.index
	}
	if m := min(b, v.least); v.index >= v.from && (!v.known || m > v.best) {
		v.best, v.at, v.known = m, v.index, true
		if m >= 0 && v.held < 0 {
			v.held = v.index
		}
	}
	v.index++
}

func (v *untilOverRun) now() outcome {
	o := outcome{math.Inf(-1), math.Inf(1), v.at, v.to, v.held}
	if v.fell >= 0 {
		o.broke = v.fell
	}
	if v.known {
		o.lower = v.best
	}
	switch {
	case v.known && v.index > v.to:
		o.upper = v.best
	case v.index > 0:
		o.upper = max(o.lower, v.least)
	}
	return o
}

func (v *untilOverRun) clone(t *tally) verdict {
	c := *v
	c.pairing = v.pairing.clone(t)
	return &c
}

func (v *untilOverRun) wants() int64 { return v.to + v.pairing.ahead() + 1 }

package formula

import "time"

// Monitor judges a run by a formula, step by step. Its memory depends on the formula's windows and not on the run's
// length.
type Monitor struct {
	of          verdict
	tally       *tally
	conditional bool
	steps       int64
}

// Check says whether the formula can judge runs of a step: its times must be multiples of it, and not too long.
func (f *Formula) Check(step time.Duration) error {
	c := compiler{step: step}
	c.measure(f.root, whole)
	return c.err
}

// Monitor makes a monitor for runs of a step, for which Check finds nothing wrong.
func (f *Formula) Monitor(step time.Duration) (*Monitor, error) {
	c := compiler{step: step, tally: &tally{}}
	if c.measure(f.root, whole); c.err != nil {
		return nil, c.err
	}
	return &Monitor{of: c.verdict(f.root, 1), tally: c.tally, conditional: c.conditional}, nil
}

// Observe takes the signals of the next step, in the order in which Parse was given them. They must be finite. It allocates
// nothing.
func (m *Monitor) Observe(values []float64) {
	m.of.observe(values, observed)
	m.steps++
}

// Steps is how many were observed.
func (m *Monitor) Steps() int64 { return m.steps }

// Conditional says whether the formula has an implies, so that it asks for nothing where none of its conditions hold.
func (m *Monitor) Conditional() bool { return m.conditional }

// Broken is the step, counted from 0, at which the formula was first violated, whatever comes: as far as is known already.
// It allocates nothing.
func (m *Monitor) Broken() (step int64, is bool) {
	o := m.of.now()
	return o.broke, o.upper < 0
}

// Outcome is what a run says about a formula. Steps are counted from 0.
type Outcome struct {
	// Lower and Upper enclose the margin, whatever would have come after the run's end. Where the run tells it, they are one;
	// the formula is violated where Upper is negative, and holds where Lower is not (J. V. Deshmukh et al.,
	// Robust online monitoring of signal temporal logic, Formal Methods in System Design 51, 2017).
	Lower, Upper float64
	// LowerAt and UpperAt are the instants at which they come about.
	LowerAt, UpperAt int64
	// Broke is the first instant that violates the formula, where Upper is negative.
	Broke int64
	// Exercised counts the occasions on which it could have been violated: the instants of its outermost always, eventually
	// or until; or, where it has an implies, the instants at which what stands before one held.
	Exercised int64
}

// Outcome judges the run as if it ended here, and changes nothing.
func (m *Monitor) Outcome() Outcome {
	low, _ := m.ended(harsh)
	high, occasions := m.ended(kind)
	return Outcome{low.lower, high.upper, low.at, high.at, high.broke, occasions}
}

// ended is what is known when the run has ended and nothing but the best, or the worst, comes after it.
func (m *Monitor) ended(how future) (outcome, int64) {
	t := *m.tally
	v := m.of.clone(&t)
	v.end(m.steps)
	occasions := v.occasions(m.conditional)
	for n := v.wants() - m.steps; n > 0; n-- {
		v.observe(nil, how)
	}
	if m.conditional {
		occasions = v.occasions(true) + t.held
	}
	return v.now(), occasions
}

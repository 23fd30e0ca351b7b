package criteria

import (
	"fmt"
	"math"
	"time"

	"kilter/suites/formula"
)

// Formula asks that a sentence of temporal logic holds.
type Formula struct {
	// Name is the sentence's own.
	Name string
	// Sentence is what it says, for reports, and Of the same understood.
	Sentence string
	Of       *formula.Formula
	// Signals is how many a sample must have.
	Signals int
}

// FormulaPrefix begins the name of each sentence's criterion, with the sentence's own behind it.
const FormulaPrefix = "formula."

// sentence judges the margin of the sentence at the first sample, by the quantitative semantics of package formula. Where the
// run ends before the sentence is decided the margin lies between two bounds: it has failed where the upper one is below
// zero, passed where the lower one is not, and is undetermined else. The bound that decides is told.
//
// Exercised counts the instants of the sentence's outermost always, eventually or until; of a sentence with an implies,
// the instants at which what stands before one held. Whether the batteries could have prevented a failure nobody can
// tell of any sentence.
type sentence struct {
	p Formula
	timeline
	of    *formula.Monitor
	reads []int
}

// NewFormula watches one sentence.
func NewFormula(p Formula, step time.Duration) (Monitor, error) {
	line, err := newTimeline(step)
	if err != nil {
		return nil, err
	}
	of, err := p.Of.Monitor(step)
	if err != nil {
		return nil, fmt.Errorf("%s%s: %w", FormulaPrefix, p.Name, err)
	}
	return &sentence{p: p, timeline: line, of: of, reads: p.Of.Reads()}, nil
}

func (m *sentence) Name() string { return FormulaPrefix + m.p.Name }

func (m *sentence) Observe(s *Sample) {
	if m.accept(s, m.sound(s)) {
		m.of.Observe(s.Signals)
	}
}

// sound is finite when what the sentence speaks of is.
func (m *sentence) sound(s *Sample) float64 {
	if len(s.Signals) != m.p.Signals {
		return nan
	}
	total := 0.0
	for _, i := range m.reads {
		total += math.Abs(s.Signals[i])
	}
	return total
}

func (m *sentence) Breach() int64 {
	if step, broken := m.of.Broken(); broken {
		return m.first + step
	}
	return 0
}

func (m *sentence) Result() Result {
	unit, times := string(m.p.Of.Unit()), 1.0
	if m.p.Of.Unit() == formula.Number {
		unit, times = "%", 100
	}
	of := idle("sentence", m.p.Sentence, unit)
	of.AtLeast = true
	judged := func(margin float64, step int64) {
		of = atLeast(of.Name, of.Formula, float64(times*margin), 0, 0, unit, m.at(m.first+step))
	}
	o := m.of.Outcome()
	exercised, otherwise := int(o.Exercised), NotExercised
	switch {
	case m.of.Steps() == 0:
	case o.Upper < 0:
		judged(o.Upper, o.UpperAt)
	case o.Lower < 0:
		of.Status, otherwise = Undetermined, Undetermined
	case !m.of.Conditional():
		exercised = max(exercised, 1)
		fallthrough
	default:
		judged(o.Lower, o.LowerAt)
	}
	r := conclude(m.Name(), exercised, otherwise, of)
	r.Unweighed = true
	switch r.Status {
	case Failed:
		r.FirstBreachS = m.at(m.first + o.Broke)
		r.note("%s", m.p.Sentence)
	case Undetermined:
		r.note("the run ended before it was decided: %s", m.p.Sentence)
	case NotExercised:
		r.note("what stands before implies never held: %s", m.p.Sentence)
	}
	return m.blame(r)
}

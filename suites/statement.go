package suites

import (
	"fmt"
	"time"

	"kilter/emulator/trace"
	"kilter/scenarios"
	"kilter/suites/criteria"
	"kilter/suites/verdict"
)

// statement is one criterion that a scenario can state.
type statement struct {
	name   string
	stated func(m *scenarios.Must) bool
	make   func(c *setting) (criteria.Monitor, error)
	// allowance says in words how the limit may be exceeded, or when it holds; nil where there is nothing to say.
	allowance func(m *scenarios.Must) string
	// shows are the kinds of the trace's columns in which it is seen, the judged one first.
	shows []trace.Kind
}

// columns names the trace's columns in which it is seen.
func (s *statement) columns(rec *trace.Recorder) []string {
	var names []string
	for _, kind := range s.shows {
		for i := range rec.Columns {
			if rec.Columns[i].Kind == kind {
				names = append(names, rec.Columns[i].Name)
			}
		}
	}
	return names
}

// Criteria lists all criteria, in the order in which they are judged.
func Criteria() []string {
	names := make([]string, len(statements))
	for i := range statements {
		names[i] = statements[i].name
	}
	return names
}

// Stated lists the criteria that a scenario states, in the order in which they are judged.
func Stated(sc *scenarios.Scenario) []string {
	var names []string
	for i := range statements {
		if statements[i].stated(&sc.Must) {
			names = append(names, statements[i].name)
		}
	}
	return names
}

// stating finds the statement of a criterion.
func stating(criterion string) *statement {
	for i := range statements {
		if statements[i].name == criterion {
			return &statements[i]
		}
	}
	return &statement{name: criterion}
}

// allows says in words how a scenario lets a limit be exceeded.
func (s *statement) allows(m *scenarios.Must) string {
	if s.allowance == nil || !s.stated(m) {
		return ""
	}
	return s.allowance(m)
}

func except(d time.Duration) string {
	if d == 0 {
		return ""
	}
	return "except up to " + duration(d)
}

func watts(w float64) string       { return verdict.Quantity(verdict.Of(w), "W") }
func percent(share float64) string { return verdict.Quantity(verdict.Of(100*share), "%") }

// duration writes a duration in the unit in which a scenario would.
func duration(d time.Duration) string {
	if d >= time.Minute && d%time.Minute == 0 {
		return fmt.Sprintf("%d min", d/time.Minute)
	}
	return fmt.Sprintf("%g s", d.Seconds())
}

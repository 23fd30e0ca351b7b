package suites

import (
	"fmt"
	"strings"
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
	// shows are the kinds of the trace's columns in which it is seen, the judged one first, and speaksOf the columns that
	// a sentence is about.
	shows    []trace.Kind
	speaksOf []string
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
	return append(names, s.speaksOf...)
}

// Criteria lists all criteria, in the order in which they are judged. The last stands for all sentences that a scenario may
// state.
func Criteria() []string {
	names := make([]string, len(statements), len(statements)+1)
	for i := range statements {
		names[i] = statements[i].name
	}
	return append(names, CriterionOf(criteria.FormulaPrefix))
}

// CriterionOf is the criterion to which a name in a verdict belongs: formula for each of a scenario's sentences, and else the
// name itself.
func CriterionOf(name string) string {
	criterion, _, _ := strings.Cut(name, ".")
	return criterion
}

// Stated lists what a scenario states, by the names in its verdict, in the order in which they are judged.
func Stated(sc *scenarios.Scenario) []string {
	var names []string
	for _, s := range statedBy(sc) {
		names = append(names, s.name)
	}
	return names
}

// statedBy are the criteria that a scenario states, in the order in which they are judged.
func statedBy(sc *scenarios.Scenario) []statement {
	var list []statement
	for i := range statements {
		if statements[i].stated(&sc.Must) {
			list = append(list, statements[i])
		}
	}
	for _, f := range sc.Must.Formulas {
		list = append(list, sentenceStatement(sc.Site, f))
	}
	return list
}

// stating finds what a scenario states by its name.
func stating(sc *scenarios.Scenario, name string) *statement {
	for _, s := range statedBy(sc) {
		if s.name == name {
			return &s
		}
	}
	return &statement{name: name}
}

// allows says in words how a scenario lets a limit be exceeded.
func (s *statement) allows(m *scenarios.Must) string {
	if s.allowance == nil {
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

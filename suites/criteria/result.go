package criteria

import (
	"fmt"
	"strings"
)

// Status is the outcome of a criterion.
type Status string

const (
	// Passed: exercised, and every clause held.
	Passed Status = "passed"
	// Failed: at least one clause was violated.
	Failed Status = "failed"
	// Undetermined: something happened, but the run gave no chance to judge it.
	Undetermined Status = "undetermined"
	// NotExercised: nothing happened that the criterion is about.
	NotExercised Status = "not_exercised"
)

// Result is what a monitor says about the run so far. All numbers are finite,
// so a Result always encodes as JSON.
//
// Margin, Observed, Limit, Unit and AtS repeat the clause that decides: the
// first one that failed, else the first undetermined one, else the first that was exercised, else the first. They
// mean nothing when Valid is false.
type Result struct {
	Name   string `json:"name"`
	Status Status `json:"status"`
	Passed bool   `json:"passed"`
	// Exercised counts the occasions on which the criterion could have failed;
	// each monitor defines its own.
	Exercised int     `json:"exercised"`
	Valid     bool    `json:"valid"`
	Margin    float64 `json:"margin"`
	Observed  float64 `json:"observed"`
	Limit     float64 `json:"limit"`
	Unit      string  `json:"unit"`
	// AtLeast says that Limit is a lower bound.
	AtLeast bool `json:"at_least,omitempty"`
	// AtS is the simulated time to look at, in seconds.
	AtS float64 `json:"at_s"`
	// FirstBreachS is the time of the first violation of a failed criterion.
	FirstBreachS float64 `json:"first_breach_s,omitempty"`
	// Avoidable says that the batteries could have prevented the failure at the
	// instant that is judged.
	Avoidable bool `json:"avoidable,omitempty"`
	// Unweighed says that nobody can tell whether they could have.
	Unweighed bool   `json:"unweighed,omitempty"`
	Detail    string `json:"detail,omitempty"`
	// Decides is the name of the clause that decides.
	Decides string         `json:"decides"`
	Clauses []ClauseResult `json:"clauses,omitempty"`
	Figures []Figure       `json:"figures,omitempty"`
}

// ClauseResult is the verdict on one clause of a criterion, with its own unit.
type ClauseResult struct {
	Name     string  `json:"name"`
	Formula  string  `json:"formula"`
	Status   Status  `json:"status"`
	Valid    bool    `json:"valid"`
	Margin   float64 `json:"margin"`
	Observed float64 `json:"observed"`
	Limit    float64 `json:"limit"`
	Unit     string  `json:"unit"`
	AtLeast  bool    `json:"at_least,omitempty"`
	AtS      float64 `json:"at_s"`
}

// Figure is a further number that a report may show; it decides nothing.
type Figure struct {
	Name  string  `json:"name"`
	Value float64 `json:"value"`
	Unit  string  `json:"unit"`
}

// clause judges observed against limit: the margin is limit - observed, and one
// within rounding of zero is zero.
func clause(name, formula string, observed, limit, rounding float64, unit string, atS float64) ClauseResult {
	margin := limit - observed
	if margin < rounding && margin > -rounding {
		margin = 0
	}
	status := Passed
	if margin < 0 {
		status = Failed
	}
	return ClauseResult{
		Name: name, Formula: formula, Status: status, Valid: true,
		Margin: margin, Observed: observed, Limit: limit, Unit: unit, AtS: atS,
	}
}

// atLeast judges observed against a lower limit: the margin is observed - limit.
func atLeast(name, formula string, observed, limit, rounding float64, unit string, atS float64) ClauseResult {
	c := clause(name, formula, -observed, -limit, rounding, unit, atS)
	c.Observed, c.Limit, c.AtLeast = observed, limit, true
	return c
}

// idle is a clause that had nothing to judge.
func idle(name, formula, unit string) ClauseResult {
	return ClauseResult{Name: name, Formula: formula, Status: NotExercised, Unit: unit}
}

// weight orders what a clause can say by how much it decides.
var weight = map[Status]int{NotExercised: 0, Passed: 1, Undetermined: 2, Failed: 3}

// conclude joins the clauses. otherwise is the status when nothing was
// exercised; a violation always counts as exercise.
func conclude(name string, exercised int, otherwise Status, clauses ...ClauseResult) Result {
	r := Result{Name: name, Exercised: exercised, Clauses: clauses}
	head := clauses[0]
	for _, c := range clauses {
		if weight[c.Status] > weight[head.Status] {
			head = c
		}
	}
	switch {
	case head.Status == Failed:
		r.Status = Failed
		r.Exercised = max(exercised, 1)
	case exercised == 0:
		r.Status = otherwise
		for i := range clauses {
			clauses[i].Status = otherwise
		}
	default:
		if r.Status = head.Status; r.Status == NotExercised {
			r.Exercised = 0 // what happened was nothing that any clause is about
		}
	}
	r.Passed = r.Status == Passed
	r.Valid = head.Valid
	if head.Valid {
		r.Margin, r.Observed, r.Limit, r.AtS = head.Margin, head.Observed, head.Limit, head.AtS
	}
	r.Unit, r.AtLeast, r.Decides = head.Unit, head.AtLeast, head.Name
	return r
}

// note appends a sentence to the Detail.
func (r *Result) note(format string, args ...any) {
	sentence := fmt.Sprintf(format, args...)
	r.Detail = strings.TrimPrefix(r.Detail+"; "+sentence, "; ")
}

package verdict

import (
	"errors"
	"fmt"
	"reflect"
	"slices"
)

// Tool and Format head every verdict. Format rises when a field changes its
// meaning or goes; a new field alone does not raise it.
const (
	Tool   = "kilter"
	Format = 1
)

// Status is what became of one criterion.
type Status string

// The four statuses. Only a criterion that was exercised can pass: a settle
// criterion in a run without a disturbance has shown nothing.
const (
	Passed       Status = "passed"
	Failed       Status = "failed"
	Undetermined Status = "undetermined"
	NotExercised Status = "not_exercised"
)

var statuses = []Status{Passed, Failed, Undetermined, NotExercised}

// Words returns the status as people read it.
func (s Status) Words() string {
	if s == NotExercised {
		return "not exercised"
	}
	return string(s)
}

// ErrorKind says whose fault it is that a run could not be judged.
type ErrorKind string

// A bench fault is never the controller's failure, so the kinds stay apart
// up to the exit code.
const (
	BenchFault          ErrorKind = "bench_fault"
	ControllerNeverCame ErrorKind = "controller_never_came"
	ControllerDied      ErrorKind = "controller_died"
)

var errorKinds = []ErrorKind{BenchFault, ControllerNeverCame, ControllerDied}

// Words returns the kind as people read it.
func (k ErrorKind) Words() string {
	switch k {
	case BenchFault:
		return "bench fault"
	case ControllerNeverCame:
		return "controller never came"
	case ControllerDied:
		return "controller died"
	}
	return string(k)
}

// Bound says on which side of its limit an observed figure must stay.
type Bound string

// A criterion without a plain limit (a yes or no) leaves its bound empty.
const (
	AtMost  Bound = "at_most"
	AtLeast Bound = "at_least"
)

// Verdict is the content of verdict.json. Make it with New.
type Verdict struct {
	Tool   string `json:"tool"`
	Format int    `json:"format"`
	Passed bool   `json:"passed"`
	// Seeds sums up the scenarios that were played with several seeds.
	Seeds []Seeds `json:"seeds,omitempty"`
	Runs  []Run   `json:"runs"`
}

// Run is one scenario on one site with one seed and one controller.
type Run struct {
	Scenario   string `json:"scenario"`
	Title      string `json:"title,omitempty"`
	Site       string `json:"site"`
	Seed       uint64 `json:"seed"`
	Pace       string `json:"pace"`
	Controller string `json:"controller"`
	// StartedLocal is the scenario's own local start, "2026-06-18 10:30
	// Europe/Oslo", and never the wall clock of the bench.
	StartedLocal string `json:"started_local,omitempty"`
	StepMS       Number `json:"step_ms,omitzero"`
	DurationS    Number `json:"duration_s,omitzero"`
	Passed       bool   `json:"passed"`
	// Error is set where the run could not be judged to its end.
	Error       *RunError `json:"error,omitempty"`
	TraceSHA256 string    `json:"trace_sha256"`
	Audit       Audit     `json:"audit"`
	// Wire is missing where no controller was on the wire.
	Wire *Wire `json:"wire,omitempty"`
	// Pacing is missing where the plant followed no wall clock.
	Pacing *Pacing `json:"pacing,omitempty"`
	// Reproduce is the one command that repeats the run.
	Reproduce string      `json:"reproduce"`
	Criteria  []Criterion `json:"criteria"`
	// Cautions says what this result does not show.
	Cautions []string `json:"cautions,omitempty"`
}

// RunError is a bench fault, or a controller that never came or died.
type RunError struct {
	Kind   ErrorKind `json:"kind"`
	Detail string    `json:"detail"`
	AtS    Number    `json:"at_s,omitzero"`
}

// Audit is the plant's own account: the largest power imbalance that any
// node showed at any step, and the energy that the whole run lost or won.
// The limits are those above which the run counts as a bench fault.
type Audit struct {
	WorstNodeW       Number `json:"worst_node_w"`
	EnergyResidualWh Number `json:"energy_residual_wh"`
	WorstNode        string `json:"worst_node,omitempty"`
	WorstAtS         Number `json:"worst_at_s,omitzero"`
	LimitW           Number `json:"limit_w,omitzero"`
	LimitWh          Number `json:"limit_wh,omitzero"`
}

// Criterion is one clause and its finding.
type Criterion struct {
	Name string `json:"name"`
	// Clause tells the clauses of one criterion apart ("level", "energy"):
	// each has a margin in a unit of its own.
	Clause string `json:"clause,omitempty"`
	Status Status `json:"status"`
	// Passed follows from Status; New sets it.
	Passed bool `json:"passed"`
	// Exercised counts the occasions on which the criterion could have failed;
	// without any it cannot pass.
	Exercised int `json:"exercised"`
	// Margin is signed, in Unit, and positive where the clause holds.
	Margin   Number `json:"margin"`
	Observed Number `json:"observed"`
	Limit    Number `json:"limit"`
	Unit     string `json:"unit"`
	// Allowance says in words how the limit may be exceeded, or when it holds: "except up to 30 s".
	Allowance string `json:"allowance,omitempty"`
	// AtS is the simulated time of the worst moment.
	AtS Number `json:"at_s"`
	// FirstS is when a failed criterion was first broken.
	FirstS Number `json:"first_s,omitzero"`
	Detail string `json:"detail"`
	// Avoidable says of a failure whether the batteries could have prevented
	// it at the moment that is judged.
	Avoidable *bool `json:"avoidable,omitempty"`
	Bound     Bound `json:"bound,omitempty"`
	// FromS and ToS enclose the worst episode, where the clause has one.
	FromS Number `json:"from_s,omitzero"`
	ToS   Number `json:"to_s,omitzero"`
	// TraceLimit is the limit as a level of the first of Columns, where it is
	// one: -5000 for an export limit of 5 kW on the grid flow. A plot draws
	// it; without it no line is drawn. A level of opposite sign to Limit
	// turns Bound around.
	TraceLimit Number `json:"trace_limit,omitzero"`
	// Formula is the clause's margin as it is computed.
	Formula string `json:"formula,omitempty"`
	// Decides is the clause that decides, whose figures these are; Clauses are all, where there are several.
	Decides string   `json:"decides,omitempty"`
	Clauses []Clause `json:"clauses,omitempty"`
	Figures []Figure `json:"figures,omitempty"`
	// Cause is what is known of how it came to fail.
	Cause *Cause `json:"cause,omitempty"`
	// Columns name the trace columns that show the finding, the judged one
	// first.
	Columns []string `json:"columns,omitempty"`
}

// New returns the verdict on the runs. It sets what follows from the
// findings: a run passes when it ended without an error and no criterion
// failed; the whole passes when there is a run and every run passes.
func New(runs ...Run) Verdict {
	v := Verdict{Tool: Tool, Format: Format, Passed: len(runs) > 0, Runs: []Run{}}
	for _, run := range runs {
		run.Criteria = slices.Clone(run.Criteria)
		if run.Criteria == nil {
			run.Criteria = []Criterion{}
		}
		for i := range run.Criteria {
			c := &run.Criteria[i]
			c.Passed = c.Status == Passed
		}
		run.Passed = run.passes()
		v.Passed = v.Passed && run.Passed
		v.Runs = append(v.Runs, run)
	}
	v.Seeds = overSeeds(v.Runs)
	return v
}

// Title returns the criterion's name, with the clause that it is or that decides where
// that is not the first of several: "import (energy)".
func (c Criterion) Title() string {
	switch {
	case c.Clause != "":
		return c.Name + " (" + c.Clause + ")"
	case len(c.Clauses) > 1 && c.Decides != c.Clauses[0].Name:
		return c.Name + " (" + c.Decides + ")"
	}
	return c.Name
}

// Count returns how many criteria of the run have the status.
func (r Run) Count(s Status) int {
	n := 0
	for _, c := range r.Criteria {
		if c.Status == s {
			n++
		}
	}
	return n
}

// Failures returns the failed criteria in the order of the scenario.
func (r Run) Failures() []Criterion {
	var failures []Criterion
	for _, c := range r.Criteria {
		if c.Status == Failed {
			failures = append(failures, c)
		}
	}
	return failures
}

func (r Run) passes() bool { return r.Error == nil && r.Count(Failed) == 0 }

// check returns the first thing that makes v no verdict.
func (v Verdict) check() error {
	if v.Tool != Tool {
		return fmt.Errorf("verdict: tool: found %q, want %q", v.Tool, Tool)
	}
	if v.Format != Format {
		return fmt.Errorf("verdict: format: found %d, this build reads %d", v.Format, Format)
	}
	all := len(v.Runs) > 0
	for i, run := range v.Runs {
		if err := run.check(fmt.Sprintf("runs[%d]", i)); err != nil {
			return err
		}
		all = all && run.Passed
	}
	if v.Passed != all {
		return fmt.Errorf("verdict: passed: found %t, but the runs say %t", v.Passed, all)
	}
	if seeds := overSeeds(v.Runs); !reflect.DeepEqual(v.Seeds, seeds) {
		return errors.New("verdict: seeds: found other sums than the runs come to")
	}
	return nil
}

func (r Run) check(where string) error {
	if e := r.Error; e != nil && !slices.Contains(errorKinds, e.Kind) {
		return fmt.Errorf("verdict: %s.error.kind: found %q, want one of %q", where, e.Kind, errorKinds)
	}
	for i, c := range r.Criteria {
		if err := c.check(fmt.Sprintf("%s.criteria[%d]", where, i)); err != nil {
			return err
		}
	}
	if r.Passed != r.passes() {
		return fmt.Errorf("verdict: %s.passed: found %t, but its findings say %t", where, r.Passed, r.passes())
	}
	return nil
}

func (c Criterion) check(where string) error {
	if c.Name == "" {
		return fmt.Errorf("verdict: %s.name: found nothing, want the criterion's name", where)
	}
	if !slices.Contains(statuses, c.Status) {
		return fmt.Errorf("verdict: %s.status: found %q, want one of %q", where, c.Status, statuses)
	}
	if c.Passed != (c.Status == Passed) {
		return fmt.Errorf("verdict: %s.passed: found %t beside status %q", where, c.Passed, c.Status)
	}
	if c.Exercised < 0 || (c.Exercised == 0 && c.Status == Passed) || (c.Exercised > 0 && c.Status == NotExercised) {
		return fmt.Errorf("verdict: %s.exercised: found %d beside status %q", where, c.Exercised, c.Status)
	}
	if c.Bound != "" && c.Bound != AtMost && c.Bound != AtLeast {
		return fmt.Errorf("verdict: %s.bound: found %q, want %q, %q or nothing", where, c.Bound, AtMost, AtLeast)
	}
	return nil
}

package compare

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"kilter/suites/verdict"
)

// Format rises when a field of a comparison's JSON changes its meaning or goes.
const Format = 1

// Options tune a comparison.
type Options struct {
	// Tolerance is the share of the limit by which a margin may differ without being told as changed.
	Tolerance float64
	// Level is the chance that a comparison of what has not changed tells anything at all.
	Level float64
}

// Defaults of the options.
const (
	DefaultTolerance = 0.05
	DefaultLevel     = 0.05
)

// Check says what is wrong with the options.
func (o Options) Check() error {
	if !(o.Tolerance >= 0 && o.Tolerance <= 10) {
		return fmt.Errorf("the tolerance %g: must be a share of the limit, from 0 to 10", o.Tolerance)
	}
	if !(o.Level > 0 && o.Level < 1) {
		return fmt.Errorf("the level %g: must be above 0 and below 1", o.Level)
	}
	return nil
}

// Comparison is what changed from A to B.
type Comparison struct {
	Tool      string         `json:"tool"`
	Format    int            `json:"format"`
	Worse     bool           `json:"worse"`
	Tolerance verdict.Number `json:"tolerance"`
	Level     verdict.Number `json:"level"`
	// Tests is how many margins and shares were tested, for all of which the level holds together.
	Tests int `json:"tests"`
	// Remarks are sentences on the comparison as a whole.
	Remarks []string `json:"remarks,omitempty"`
	// OnlyA and OnlyB are the scenarios that only one side has.
	OnlyA     []string   `json:"only_a,omitempty"`
	OnlyB     []string   `json:"only_b,omitempty"`
	Scenarios []Scenario `json:"scenarios"`
}

// Scenario is one that both sides have.
type Scenario struct {
	Name string `json:"scenario"`
	// A and B are the runs that are compared: where two or more seeds are on both sides, those alone, in the same order.
	SeedsA []uint64 `json:"seeds_a"`
	SeedsB []uint64 `json:"seeds_b"`
	// Paired says that the seeds are the same.
	Paired bool `json:"paired"`
	// Identical is how many pairs of runs have the same trace, bit for bit.
	Identical int      `json:"identical"`
	Changes   []Change `json:"criteria"`
}

// Judgement is what a change comes to.
type Judgement string

// The judgements. Unclear is a difference that seeds may explain.
const (
	Same    Judgement = "same"
	Better  Judgement = "better"
	Worse   Judgement = "worse"
	Unclear Judgement = "unclear"
)

// Change is what became of one criterion, or one clause of it.
type Change struct {
	Name      string    `json:"name"`
	Clause    string    `json:"clause,omitempty"`
	Unit      string    `json:"unit"`
	Judgement Judgement `json:"judgement"`
	// Why says it in a sentence.
	Why string `json:"why"`
	// A and B are nil where that side does not judge it.
	A *Side `json:"a,omitempty"`
	B *Side `json:"b,omitempty"`
	// Difference is that of the margins, B less A: the median of the pairs, or the difference of the medians.
	Difference verdict.Number `json:"difference"`
	// P is the p-value of the difference, and FailuresP that of the share of seeds that fail; null without a test.
	P         verdict.Number `json:"p"`
	FailuresP verdict.Number `json:"failures_p"`
}

// Side is one side's findings, in the order of its seeds.
type Side struct {
	verdict.OverSeeds
	Limit   string           `json:"limit"`
	Margins []verdict.Number `json:"margins"`

	scale float64 // what the tolerance is a share of
}

// Share is a margin as a share of the limit; false where either is not known.
func (s *Side) Share(margin verdict.Number) (float64, bool) {
	m, known := margin.Value()
	if !known || s.scale == 0 {
		return 0, false
	}
	return m / s.scale, true
}

// Title returns the criterion's name, with its clause where it has several.
func (c Change) Title() string { return verdict.Criterion{Name: c.Name, Clause: c.Clause}.Title() }

// ErrNothing says that two verdicts have no scenario in common.
var ErrNothing = errors.New("the two sides have no scenario in common, so that there is nothing to compare")

// Compare says what changed from a to b.
func Compare(a, b verdict.Verdict, opt Options) (Comparison, error) {
	if err := opt.Check(); err != nil {
		return Comparison{}, err
	}
	c := Comparison{Tool: verdict.Tool, Format: Format, Tolerance: verdict.Of(opt.Tolerance), Level: verdict.Of(opt.Level), Scenarios: []Scenario{}}
	namesA, namesB := scenariosOf(a), scenariosOf(b)
	var all []pending
	for _, name := range namesA {
		if !slices.Contains(namesB, name) {
			c.OnlyA = append(c.OnlyA, name)
			continue
		}
		s, changes := compareScenario(a.Of(name), b.Of(name))
		for i := range changes {
			changes[i].scenario = len(c.Scenarios)
		}
		c.Scenarios = append(c.Scenarios, s)
		all = append(all, changes...)
	}
	for _, name := range namesB {
		if !slices.Contains(namesA, name) {
			c.OnlyB = append(c.OnlyB, name)
		}
	}
	if len(c.Scenarios) == 0 {
		return c, ErrNothing
	}
	c.judge(all, opt)
	return c, nil
}

// scenariosOf lists the scenarios of a verdict in the order of its runs.
func scenariosOf(v verdict.Verdict) []string {
	var names []string
	for _, run := range v.Runs {
		if !slices.Contains(names, run.Scenario) {
			names = append(names, run.Scenario)
		}
	}
	return names
}

// compareScenario lays the runs of a scenario beside one another. What it finds is judged later, all together.
func compareScenario(a, b []verdict.Run) (Scenario, []pending) {
	s := Scenario{Name: a[0].Scenario, Changes: []Change{}}
	pairsA, pairsB := pairs(a, b)
	if len(pairsA) >= 2 || len(pairsA) == 1 && len(a) == 1 && len(b) == 1 {
		a, b, s.Paired = pairsA, pairsB, true
	}
	for _, run := range a {
		s.SeedsA = append(s.SeedsA, run.Seed)
	}
	for _, run := range b {
		s.SeedsB = append(s.SeedsB, run.Seed)
	}
	if s.Paired {
		for i := range a {
			if a[i].TraceSHA256 != "" && a[i].TraceSHA256 == b[i].TraceSHA256 {
				s.Identical++
			}
		}
	}
	var list []pending
	if x, is := ended(a, b); is {
		list = append(list, x)
	}
	sumsA, sumsB := verdict.SumUp(a), verdict.SumUp(b)
	for _, o := range sumsA.Criteria {
		list = append(list, newPending(s.Paired, sideOf(o, a), sideOf(matching(o, sumsB), b)))
	}
	for _, o := range sumsB.Criteria {
		if matching(o, sumsA).Name == "" {
			list = append(list, newPending(s.Paired, nil, sideOf(o, b)))
		}
	}
	return s, list
}

// pairs returns the runs of the seeds that both have, in a's order.
func pairs(a, b []verdict.Run) (pairsA, pairsB []verdict.Run) {
	for _, x := range a {
		for _, y := range b {
			if x.Seed == y.Seed {
				pairsA, pairsB = append(pairsA, x), append(pairsB, y)
				break
			}
		}
	}
	return pairsA, pairsB
}

// matching finds the same clause on the other side; without a name where there is none.
func matching(o verdict.OverSeeds, s verdict.Seeds) verdict.OverSeeds {
	for _, other := range s.Criteria {
		if other.Name == o.Name && other.Clause == o.Clause {
			return other
		}
	}
	return verdict.OverSeeds{}
}

// sideOf gathers one side's findings on a clause; nil where it has none.
func sideOf(o verdict.OverSeeds, runs []verdict.Run) *Side {
	if o.Name == "" {
		return nil
	}
	s := &Side{OverSeeds: o}
	for _, run := range runs {
		margin := verdict.Number{}
		for _, c := range run.Criteria {
			if c.Name == o.Name && c.Clause == o.Clause {
				margin = c.Margin
				if s.Limit == "" && c.Limit.Known() {
					s.Limit, s.scale = c.LimitText(), scaleOf(c)
				}
			}
		}
		s.Margins = append(s.Margins, margin)
	}
	return s
}

// scaleOf is the size of the limit, or of what was observed where the limit is zero.
func scaleOf(c verdict.Criterion) float64 {
	limit, _ := c.Limit.Value()
	observed, _ := c.Observed.Value()
	return math.Abs(cmp.Or(limit, observed))
}

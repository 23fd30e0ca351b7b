package falsify

import (
	"context"
	"fmt"
	"math"
	"slices"

	"kilter/scenarios"
	"kilter/suites"
	"kilter/suites/campaign"
)

// Play has runs played, and returns their results in the runs' order: a campaign.Session's Do. See, if not nil, is called as each comes.
type Play func(ctx context.Context, runs []campaign.Run, see func(i int, r *campaign.Result)) ([]*campaign.Result, error)

// Problem is what is searched.
type Problem struct {
	Form       *scenarios.Form
	Within     *scenarios.Within // made to fit the form
	Controller campaign.Controller
	// Criterion is the only one that counts; empty for all.
	Criterion string
}

// NewProblem makes ranges fit a scenario.
func NewProblem(sc *scenarios.Scenario, w *scenarios.Within, c campaign.Controller) (*Problem, error) {
	form, err := scenarios.NewForm(sc)
	if err != nil {
		return nil, err
	}
	fit, err := w.Fit(form)
	if err != nil {
		return nil, err
	}
	return &Problem{Form: form, Within: fit, Controller: c}, nil
}

// Stated lists the criteria that count in any case: those of the scenario as it stands, and those that changes add to it.
func (p *Problem) Stated() []string {
	var names []string
	for _, end := range []float64{math.NaN(), 0, 1} {
		x := p.Within.Plain()
		for k := range x {
			if !math.IsNaN(end) {
				x[k] = end
			}
		}
		sc, err := p.Form.With(p.Within.Changes(x)...)
		if err != nil {
			continue // these ends do not go together
		}
		for _, name := range suites.Stated(sc) {
			if !slices.Contains(names, name) {
				names = append(names, name)
			}
		}
	}
	return names
}

// Run is the run of a case. An error says that the parameters do not go together.
func (p *Problem) Run(x []float64) (campaign.Run, error) {
	changes := p.Within.Changes(x)
	sc, err := p.Form.With(changes...)
	if err != nil {
		return campaign.Run{}, err
	}
	return p.runOf(sc)
}

// runOf is the run of a scenario.
func (p *Problem) runOf(sc *scenarios.Scenario) (campaign.Run, error) {
	if err := suites.Check(sc); err != nil {
		return campaign.Run{}, err
	}
	text, err := sc.Resolve()
	if err != nil {
		return campaign.Run{}, fmt.Errorf("falsify: %w", err)
	}
	// The name is the same for all, so that equal cases are one run.
	return campaign.Run{Name: "case", Scenario: string(text), Controller: p.Controller}, nil
}

package suites

import (
	"fmt"
	"strings"

	"github.com/onsi/gomega/types"

	"kilter/suites/verdict"
)

// Hold succeeds where the named criterion of a played scenario passed:
//
//	Expect(outcome).To(suites.Hold("circulating"))
//
// It fails for a criterion that failed, was undetermined or was not exercised, and is an
// error for one that the scenario does not state.
func Hold(criterion string) types.GomegaMatcher { return &hold{criterion: criterion} }

type hold struct {
	criterion string
	found     verdict.Criterion
	run       verdict.Run
}

// Match looks the criterion up in the outcome's verdict.
func (h *hold) Match(actual any) (bool, error) {
	out, ok := actual.(*Outcome)
	if !ok || out == nil {
		return false, fmt.Errorf("Hold judges a *suites.Outcome, as Play returns it; found %T", actual)
	}
	h.run = out.Run
	for _, c := range out.Run.Criteria {
		if c.Name == h.criterion {
			h.found = c
			return c.Status == verdict.Passed, nil
		}
	}
	return false, fmt.Errorf("the scenario %s states no criterion %q", out.Run.Scenario, h.criterion)
}

// FailureMessage tells the finding in its five parts, and how to reproduce it.
func (h *hold) FailureMessage(any) string {
	return strings.TrimSuffix(h.found.Explain()+"\n"+h.found.Because(), "\n") + "\n" + reproduce(h.run)
}

// NegatedFailureMessage tells that the criterion passed against expectation.
func (h *hold) NegatedFailureMessage(any) string {
	return fmt.Sprintf("%s passed with a margin of %s %s, and was expected not to", h.criterion, h.found.Margin, h.found.Unit)
}

// reproduce says how a run is seen again.
func reproduce(run verdict.Run) string {
	if run.Reproduce != "" {
		return "reproduce  " + run.Reproduce
	}
	return "reproduce  run this spec again: equal runs in stepped pace are the same bit for bit"
}

package suites

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/onsi/gomega"

	"kilter/scenarios"
	"kilter/suites/verdict"
)

// Matcher is a gomega matcher that judges a played scenario by one criterion, whatever the scenario itself states:
//
//	Expect(run).To(SettleWithin(60*time.Second, 200))
//
// It judges every step, by the same monitor as a check: the plant is moved again by what the controller commanded, which
// takes milliseconds. What fails is told in five parts and with what led to it. A run in which the criterion was not
// exercised or could not be judged, or that did not come to its end, is an error and neither a match nor none.
type Matcher struct {
	criterion string
	wants     string // in words, for the failure message of a negation
	must      scenarios.Must
	found     []verdict.Criterion
	run       verdict.Run
}

func match(criterion, wants string, must scenarios.Must) *Matcher {
	return &Matcher{criterion: criterion, wants: wants, must: must}
}

// Match judges the run.
func (m *Matcher) Match(actual any) (bool, error) {
	out, ok := actual.(*Outcome)
	if !ok || out == nil {
		return false, fmt.Errorf("to %s is asked of a *suites.Outcome, as Play and Against return it; found %T", m.wants, actual)
	}
	m.run = out.Run
	if e := out.Run.Error; e != nil {
		return false, fmt.Errorf("%s could not be judged to its end: %s: %s", out.Run.Scenario, e.Kind.Words(), e.Detail)
	}
	again, err := out.judgedBy(m.must)
	if err != nil {
		return false, err
	}
	m.found = nil
	failed := false
	for _, c := range again.Run.Criteria {
		switch c.Status {
		case verdict.Failed:
			m.found, failed = append(m.found, c), true
		case verdict.Passed:
			if !failed {
				m.found = append(m.found, c)
			}
		default:
			if !failed {
				err = fmt.Errorf("%s: %s was %s: %s", out.Run.Scenario, c.Title(), c.Status.Words(), c.Detail)
			}
		}
	}
	if failed {
		return false, nil
	}
	return err == nil, err
}

// judgedBy judges an outcome again by other criteria.
func (o *Outcome) judgedBy(must scenarios.Must) (*Outcome, error) {
	sc := *o.Scenario
	sc.Must = must
	r := Recording{Folder: o.Run.Scenario, Scenario: &sc, Run: o.Run, took: o.Record, writes: o.Writes}
	return r.Judge(context.Background(), Options{})
}

// FailureMessage tells each finding in its five parts, what led to it, and how to see it again.
func (m *Matcher) FailureMessage(any) string {
	var parts []string
	for _, c := range m.found {
		if c.Status == verdict.Failed {
			parts = append(parts, strings.TrimSuffix(c.Explain()+"\n"+c.Because(), "\n"))
		}
	}
	return fmt.Sprintf("%s was to %s in %s, seed %d\n%s\n%s", m.run.Controller, m.wants, m.run.Scenario, m.run.Seed, strings.Join(parts, "\n\n"), reproduce(m.run))
}

// NegatedFailureMessage tells that the criterion passed against expectation.
func (m *Matcher) NegatedFailureMessage(any) string {
	margin := ""
	if len(m.found) > 0 {
		c := m.found[0]
		margin = ", with a margin of " + verdict.Quantity(c.Margin, c.Unit)
	}
	return fmt.Sprintf("%s was not to %s in %s, seed %d, and did%s\n%s", m.run.Controller, m.wants, m.run.Scenario, m.run.Seed, margin, reproduce(m.run))
}

// Bounded is a Matcher whose limit may be exceeded for a time.
type Bounded struct {
	*Matcher
	allow func(*scenarios.Must, time.Duration)
}

// Except lets the limit be exceeded for as long at a time.
func (b *Bounded) Except(d time.Duration) *Bounded {
	b.allow(&b.must, d)
	b.wants += ", except up to " + duration(d)
	return b
}

// matchers are gomega's, or the compiler says so.
var _ = []gomega.OmegaMatcher{&Matcher{}, &Bounded{}}

package suites

import (
	"cmp"
	"context"

	"github.com/onsi/ginkgo/v2"
	"github.com/onsi/gomega"

	"kilter/scenarios"
	"kilter/suites/verdict"
)

// Case is one scenario to accept a controller by.
type Case struct {
	// Name is how the suite calls it; empty for the scenario's own name. It tells the seeds of one scenario apart.
	Name     string
	Scenario *scenarios.Scenario
	// Play plays it; its outcome is judged criterion by criterion.
	Play func(ctx context.Context) (*Outcome, error)
	// Done, if not nil, gets the outcome or the error before the first criterion is looked at.
	Done func(*Outcome, error)
}

// Accept declares the specs of an acceptance suite, in the place of a Describe: one container a
// scenario and one spec a criterion. A criterion that was undetermined or not exercised is
// skipped with its reason, unless strict asks for it to fail.
func Accept(strict bool, cases ...Case) bool {
	// ginkgo shuffles containers at the top level; inside this one the order stays.
	return ginkgo.Describe("acceptance", func() { accept(strict, cases) })
}

func accept(strict bool, cases []Case) {
	for _, c := range cases {
		ginkgo.Describe(cmp.Or(c.Name, c.Scenario.Name), ginkgo.Ordered, ginkgo.ContinueOnFailure, func() {
			var out *Outcome
			ginkgo.BeforeAll(func(ctx ginkgo.SpecContext) {
				var err error
				out, err = c.Play(ctx)
				if c.Done != nil {
					c.Done(out, err)
				}
				gomega.Expect(err).NotTo(gomega.HaveOccurred())
				if e := out.Run.Error; e != nil {
					ginkgo.Fail(e.Kind.Words() + ": " + e.Detail)
				}
			})
			for _, name := range Stated(c.Scenario) {
				ginkgo.It(name, func() {
					if f := out.finding(name); !strict && (f.Status == verdict.Undetermined || f.Status == verdict.NotExercised) {
						ginkgo.Skip(f.Status.Words() + ": " + f.Detail)
					}
					gomega.Expect(out).To(Hold(name))
				})
			}
		})
	}
}

// finding returns the verdict's line of one criterion.
func (o *Outcome) finding(name string) verdict.Criterion {
	for _, c := range o.Run.Criteria {
		if c.Name == name {
			return c
		}
	}
	return verdict.Criterion{Name: name, Status: verdict.NotExercised}
}

package suites_test

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/onsi/gomega"

	"kilter/emulator"
	"kilter/emulator/registers"
	"kilter/suites"
)

// A controller in Go is judged without any process or socket: the bench polls it, and it reads and commands decoded
// values.
func Example() {
	southRests := suites.Controller{Name: "south rests", Policy: func() emulator.Policy {
		return emulator.PolicyFunc(func(c *emulator.Client) (next time.Duration, err error) {
			if c.Now() > 0 {
				return 10 * time.Second, nil
			}
			return 10 * time.Second, errors.Join(
				c.Write("south", registers.ChargeLimit, 0),
				c.Write("south", registers.DischargeLimit, 0))
		})
	}}
	run, err := suites.Against(context.Background(), "calm-start", southRests)
	if err != nil {
		fmt.Println(err)
		return
	}

	g := gomega.NewGomega(func(message string, _ ...int) { fmt.Println(message) })
	g.Expect(run).To(suites.SettleWithin(time.Minute, 200))
	g.Expect(run).To(suites.NotCirculateAbove(120).Except(30 * time.Second))
	g.Expect(run).To(suites.NotHunt(150, 2*time.Minute))
	fmt.Println("north alone held its load")
	// Output: north alone held its load
}

// Specs against a controller in a repository of its own stand beside it:
//
//	mine/
//	  go.mod           module example.com/mine
//	  go.work          use . and ../kilter, since kilter has no public home yet
//	  policy.go        the controller: a type with the method Poll
//	  bench_test.go    TestOnTheBench, the acceptance suite, and specs of its own
//	  scenarios/
//	    late-oven.yaml a story of its own
//
// The whole of it stands in testdata/another-repository, and a test of this package runs it. In bench_test.go, with dots
// before the imports of ginkgo, gomega and kilter/suites:
//
//	var controller = Controller{Name: "mine", Policy: func() emulator.Policy { return mine.NewPolicy() }}
//
//	var _ = Accept(false, Stories(controller, "calm-start")...)
//
//	It("settles", func(ctx SpecContext) {
//		run, err := Against(ctx, "scenarios/late-oven.yaml", controller)
//		Expect(err).NotTo(HaveOccurred())
//		Expect(run).To(SettleWithin(60*time.Second, 300))
//	})
//
// A program in any language is judged the same way: Controller{Name: "mine", Command: []string{"python3", "mine.py"}}.
func ExampleStories() {
	controller := suites.Controller{Name: "mine", Command: []string{"python3", "mine.py"}}
	for _, story := range suites.Stories(controller, "calm-start", "ev-start") {
		fmt.Println(story.Scenario.Name, suites.Stated(story.Scenario)[:3])
	}
	// Output:
	// calm-start [import settle hunting]
	// ev-start [import export settle]
}

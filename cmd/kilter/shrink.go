package main

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"kilter/emulator"
	"kilter/scenarios"
	"kilter/suites"
	"kilter/suites/criteria"
	"kilter/suites/shrink"
	"kilter/suites/verdict"
)

// shrinker is one call of kilter shrink.
type shrinker struct {
	check     check // whose controller it takes
	criterion string
	out       string
	runs      int
}

func newShrink() *cobra.Command {
	s := shrinker{}
	cmd := &cobra.Command{
		Use:   "shrink SCENARIO",
		Short: "Bring a failing scenario down to the events and the time that its failure takes",
		Example: `  kilter shrink ev-start --policy none -o small.yaml
  kilter shrink bad-day.yaml --controller 'python3 mine.py' --criterion hunting`,
		Args: takes(1, false, "one scenario"),
		RunE: s.run,
	}
	f := cmd.Flags()
	f.StringArrayVar(&s.check.commands, "controller", nil, "the controller's `COMMAND`, as for kilter check")
	f.StringVar(&s.check.policy, "policy", "steady", "a controller that comes along: steady, none or wrong/NAME")
	f.StringVar(&s.check.speaks, "speaks", "modbus", "how the --controller speaks to the bench: modbus or lines")
	f.StringVar(&s.criterion, "criterion", "", "which `CRITERION` is to go on failing; the first that fails by default")
	f.StringVarP(&s.out, "output", "o", "shrunk.yaml", "the scenario `FILE` to write")
	f.IntVar(&s.runs, "runs", 400, "how often to play it at most")
	s.check.input.flags(cmd)
	offerScenarios(cmd)
	return cmd
}

func (s *shrinker) run(cmd *cobra.Command, names []string) error {
	list, err := s.check.input.load(names)
	if err != nil {
		return err
	}
	if s.check.paceOf, err = emulator.ParsePace("stepped"); err != nil {
		return err
	}
	if err := s.check.choose(cmd, 1); err != nil {
		return err
	}
	sc := list[0].scenario
	if stated := suites.Stated(sc); s.criterion != "" && !slices.Contains(stated, s.criterion) {
		return fmt.Errorf("--criterion %s: must be one of those that %s states: %s", s.criterion, names[0], strings.Join(stated, ", "))
	}
	small, runs, err := shrink.Scenario(cmd.Context(), sc, s.judge, shrink.Options{Runs: s.runs, Progress: func(p shrink.Progress) {
		fmt.Fprintf(cmd.ErrOrStderr(), "run %d: %s, %s, still fails\n", p.Runs, verdict.Counted(p.Events, "event"), verdict.Moment(p.Lasts.Seconds()))
	}})
	switch {
	case errors.Is(err, shrink.ErrPasses) && s.criterion != "":
		return fmt.Errorf("%s does not fail on %s with this controller: there is nothing to shrink", names[0], s.criterion)
	case errors.Is(err, shrink.ErrPasses):
		return fmt.Errorf("%s does not fail with this controller: there is nothing to shrink", names[0])
	case err != nil:
		return err
	}
	text, err := small.Resolve()
	if err != nil {
		return err
	}
	if err := suites.WriteWhole(s.out, text); err != nil {
		return err
	}
	fmt.Fprintf(cmd.OutOrStdout(), "%s still fails: %s instead of %d, %s instead of %s, after %s\nsee it fail: %s\n", s.criterion,
		verdict.Counted(len(small.Events), "event"), len(sc.Events), verdict.Moment(small.Lasts.Seconds()), verdict.Moment(sc.Lasts.Seconds()),
		verdict.Counted(runs, "run"), strings.Join(append([]string{"kilter", "check", quote(s.out)}, s.check.controlArg...), " "))
	return nil
}

// judge plays a scenario. The first failure says which criterion it is about.
func (s *shrinker) judge(ctx context.Context, sc *scenarios.Scenario) (shrink.Failure, error) {
	out, err := suites.Play(ctx, sc, suites.Options{Pace: s.check.paceOf, Controller: s.check.controller, Beside: s.check.beside})
	if err != nil {
		return shrink.Failure{}, err
	}
	if e := out.Run.Error; e != nil {
		return shrink.Failure{}, fmt.Errorf("%s: %s", e.Kind, e.Detail)
	}
	for _, c := range out.Results {
		if c.Status != criteria.Failed || s.criterion != "" && c.Name != s.criterion {
			continue
		}
		s.criterion = c.Name
		return shrink.Failure{Failed: true, At: time.Duration(c.FirstBreachS * float64(time.Second))}, nil
	}
	return shrink.Failure{}, nil
}

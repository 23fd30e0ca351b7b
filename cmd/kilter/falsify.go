package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"kilter/scenarios"
	"kilter/suites"
	"kilter/suites/campaign"
	"kilter/suites/falsify"
	"kilter/suites/verdict"
)

// falsifier is one call of kilter falsify.
type falsifier struct {
	input      inputs
	at         campaigning
	contestant contestant
	within     string
	criterion  string
	opt        falsify.Options
	method     string
	out        string
	resume     bool

	made    bool   // the folder was not there before
	begun   bool   // there is something in it to go on with
	name    string // the scenario, as it was given
	problem *falsify.Problem
}

func newFalsify() *cobra.Command {
	f := &falsifier{}
	cmd := &cobra.Command{
		Use:   "falsify SCENARIO",
		Short: "Look for a case, within given ranges, in which a controller fails",
		Long: `falsify plays a scenario again and again, each time with other weather, loads, devices and faults within given ranges,
and goes where the margins are least. What it finds is brought as near to the scenario as it still fails, and written as a
scenario of its own.

The ranges are a file; kilter list names those that come along:

  format: 1
  within: A load and a silent inverter
  parameters:
    load: {range: 200 W to 9 kW, plain: 700 W}       # plain disturbs nothing
    load_at: {range: 2 min to 9 min}                 # only says when
    silent: {range: 0 s to 40 s, plain: 0 s}
    charge: {range: 20 % to 90 %, plain: as it stands}
  changes:
    - happens: {at: $load_at, base: {power: $load}}
    - happens: {at: 5 min, north: {fault: silent, lasts: $silent}}
    - {place: north.battery.soc, value: $charge}

Exit codes: 0 no case was found, 1 one was, 2 usage or bad input, 4 the controller never comes, or dies, in the scenario as it stands.`,
		Example: `  kilter falsify calm-start --policy wrong/halves
  kilter falsify calm-start --controller 'python3 mine.py' --budget 2000 --all 3
  kilter falsify ev-start --within mine.yaml --criterion import`,
		Args: takes(1, false, "one scenario"),
		RunE: f.run,
	}
	flags := cmd.Flags()
	flags.StringVar(&f.within, "within", "bakery", "the ranges: a built-in name or a `FILE`")
	flags.IntVar(&f.opt.Budget, "budget", 1000, "how many runs to look for at most")
	flags.Uint64Var(&f.opt.Seed, "search-seed", 1, "the seed of the search; the same one looks at the same cases")
	flags.StringVar(&f.method, "search", string(falsify.Adaptive), "how cases are chosen: adaptive follows the margins, random draws evenly")
	flags.StringVar(&f.criterion, "criterion", "", "the only `CRITERION` whose failure counts, such as import or formula.NAME; any by default")
	flags.IntVar(&f.opt.All, "all", 1, "look for `N` cases, each of another criterion")
	flags.IntVar(&f.opt.Shrinking, "shrink", 200, "how many runs each case may take to be made small; 0 leaves it as it was found")
	flags.StringVar(&f.out, "out", "", "folder to write to; kilter-runs/N by default")
	flags.BoolVar(&f.resume, "resume", false, "go on in the folder of --out: what was played there is not played again")
	f.at.flags(cmd)
	f.contestant.flags(cmd)
	f.input.flags(cmd)
	offerScenarios(cmd)
	offer(cmd, "search", string(falsify.Adaptive), string(falsify.Random))
	offer(cmd, "within", scenarios.WithinNames()...)
	return cmd
}

func (f *falsifier) run(cmd *cobra.Command, names []string) error {
	if err := f.settle(cmd, names); err != nil {
		return err
	}
	if err := f.folder(); err != nil {
		return err
	}
	defer f.abandon()
	queue, err := f.at.open(cmd.Context(), filepath.Join(f.out, queueFolder))
	if err != nil {
		return err
	}
	defer queue.Close()
	plain, err := f.problem.Run(f.problem.Within.Plain())
	if err != nil {
		return err
	}
	key, err := plain.Key()
	if err != nil {
		return err
	}
	player, err := ownPlayer(commandsOf(&f.problem.Controller)...)
	if err != nil {
		return err
	}
	session, err := f.at.session(cmd.Context(), queue, "falsify-"+key, player)
	if err != nil {
		return err
	}
	defer session.Close()
	hunt, err := f.hunt(cmd, session)
	interrupted := cmd.Context().Err() != nil
	absent := (*falsify.Absence)(nil)
	if f.begun = !errors.As(err, &absent); !f.begun {
		if err := session.Forget(cmd.Context(), absent.Runs...); err != nil { // it may be there the next time
			return err
		}
		return coded{verdict.ExitControllerGone, fmt.Errorf("%s as it stands: %s; what the controller prints shows\n  %s", f.name, absent, f.check(f.name))}
	}
	if err != nil && !interrupted {
		return err
	}
	if interrupted, err = f.keep(cmd.Context(), hunt, player, interrupted); err != nil {
		return err
	}
	if interrupted {
		return coded{exitUsage, fmt.Errorf("interrupted after %s; go on with --out %s --resume", verdict.Counted(len(hunt.Trials), "run"), quote(f.out))}
	}
	fmt.Fprint(cmd.OutOrStdout(), hunt.Tell(f.see))
	fmt.Fprintf(cmd.OutOrStdout(), "evidence   %s\n", f.out)
	if len(hunt.Cases) > 0 {
		return coded{code: verdict.ExitFailed}
	}
	return nil
}

// settle reads what was given.
func (f *falsifier) settle(cmd *cobra.Command, names []string) error {
	list, err := f.input.load(names)
	if err != nil {
		return err
	}
	f.name = names[0]
	f.opt.Method = falsify.Method(f.method)
	switch {
	case f.opt.Method != falsify.Adaptive && f.opt.Method != falsify.Random:
		return fmt.Errorf("--search %s: must be %s or %s", f.method, falsify.Adaptive, falsify.Random)
	case f.criterion != "" && !slices.Contains(suites.Criteria(), suites.CriterionOf(f.criterion)):
		return fmt.Errorf("--criterion %s: must be one of %s", f.criterion, strings.Join(suites.Criteria(), ", "))
	case f.opt.Budget < 1:
		return fmt.Errorf("--budget %d: must be 1 or more", f.opt.Budget)
	case f.opt.All < 1:
		return fmt.Errorf("--all %d: must be 1 or more", f.opt.All)
	case f.opt.Shrinking < 0:
		return fmt.Errorf("--shrink %d: must be 0 or more", f.opt.Shrinking)
	case f.resume && f.out == "":
		return errors.New("--resume: goes on in the folder of --out, which is not given")
	}
	if err := f.at.settle(cmd); err != nil {
		return err
	}
	controller, err := f.contestant.settle(cmd)
	if err != nil {
		return err
	}
	within, err := scenarios.FindWithin(f.within)
	if err != nil {
		return err
	}
	if f.problem, err = falsify.NewProblem(list[0].scenario, within, controller); err != nil {
		return err
	}
	f.problem.Criterion = f.criterion
	stated := f.problem.Stated()
	if f.criterion != "" && !slices.ContainsFunc(stated, func(name string) bool {
		return name == f.criterion || suites.CriterionOf(name) == f.criterion
	}) {
		return fmt.Errorf("--criterion %s: nothing of that name is stated by %s, which states %s", f.criterion, f.name, strings.Join(stated, ", "))
	}
	return nil
}

// hunt searches, and shows how far it is.
func (f *falsifier) hunt(cmd *cobra.Command, session *campaign.Session) (*falsify.Hunt, error) {
	t := newTally(f.opt.Budget, nil)
	defer t.end()
	f.opt.See = t.see
	f.opt.Found = func(c *falsify.Trial) {
		t.mutex.Lock()
		defer t.mutex.Unlock()
		t.line.Done()
		t.small = time.Now()
		fmt.Fprintf(cmd.ErrOrStderr(), "run %d: %s failed; it is made small\n", c.Run, c.Clause)
	}
	return falsify.Find(cmd.Context(), f.problem, session.Do, f.opt)
}

// keep writes the folder. Each counterexample is played once more from its file before anybody is told that it fails; now says whether
// that was interrupted, if the search was not already.
func (f *falsifier) keep(ctx context.Context, h *falsify.Hunt, player *campaign.Player, interrupted bool) (now bool, err error) {
	for i, c := range h.Cases {
		path := filepath.Join(f.out, falsify.CaseFile(i))
		if err := suites.WriteWhole(path, c.Scenario); err != nil {
			return interrupted, err
		}
		if interrupted {
			continue
		}
		sc, err := scenarios.LoadScenario(path)
		if err != nil {
			return false, err
		}
		err = c.Confirm(ctx, f.problem, sc, player.Play)
		if interrupted = ctx.Err() != nil; err != nil && !interrupted {
			return false, err
		}
	}
	file := h.File(f.name)
	file.Interrupted = interrupted
	for _, out := range []struct {
		name  string
		write func(io.Writer) error
	}{{summaryFile, file.Write}, {"runs.csv", h.WriteRuns}, {"falsify.html", file.Page(h, f.see)}} {
		var text bytes.Buffer
		if err := out.write(&text); err != nil {
			return interrupted, err
		}
		if err := suites.WriteWhole(filepath.Join(f.out, out.name), text.Bytes()); err != nil {
			return interrupted, err
		}
	}
	return interrupted, f.forgetCases(len(h.Cases))
}

// see is the command that shows a case failing.
func (f *falsifier) see(i int) string { return f.check(filepath.Join(f.out, falsify.CaseFile(i))) }

// check is the command that plays a scenario with the controller.
func (f *falsifier) check(scenario string) string {
	line, err := checkLine(&f.problem.Controller, scenario)
	if err != nil {
		return err.Error() // it was settled when the controller was read
	}
	return strings.Join(line, " ")
}

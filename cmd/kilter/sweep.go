package main

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"kilter/suites/campaign"
	"kilter/suites/sweep"
	"kilter/suites/verdict"
)

// sweeper is one call of kilter sweep.
type sweeper struct {
	input  inputs
	who    contestant
	where  campaigning
	vary   []string
	design string
	points int
	goals  []string
	out    string
	resume bool
	fresh  int
	sites  int
	spread share

	plan    sweep.Plan
	session *campaign.Session
	folder  string
	made    bool // the folder was not there before
	begun   bool // there is something in it to go on with
	before  int  // runs that were played before the rest
	cases   []sweep.Case
	results []*campaign.Result
}

func newSweep() *cobra.Command {
	s := sweeper{spread: 0.2}
	cmd := &cobra.Command{
		Use:   "sweep SCENARIO ... --vary NAME=LOW:HIGH:COUNT",
		Short: "Try settings over scenarios and seeds, and recommend one",
		Long: `sweep plays each scenario and seed with each setting, and recommends one: among those that meet every
criterion in all runs the one of the largest least margin, or, with --goal, one that no other beats. A
varied NAME is a setting of the controller, {name} in its words or an environment variable in capitals,
or a place of the scenario such as north.battery.capacity.

Margins of unlike units are told as shares of their limits, so that they compare. The recommended setting
is then tried on seeds and sites that had no part in the choice.

Exit codes: 0 a setting meets every criterion, 1 none does, 2 usage or bad input, 4 the controller never comes.`,
		Example: `  kilter sweep calm-start --policy 'steady --hold {hold}' --vary hold=30s:90s:3
  kilter sweep calm-start ev-start --policy 'steady --soc-apart {apart}' --vary apart=3%:8%:6 --seeds 5 --goal writes_per_hour --goal share
  kilter sweep my-day.yaml --controller './mine --gain {gain}' --vary gain=0.1:0.9:9 --vary MODE=calm,eager
  kilter sweep left-alone --vary 'north.battery.capacity=8 kWh:12 kWh' --vary 'south_ct.offset=-30 W:30 W' --design sobol --points 64`,
		Args: takes(1, true, "scenarios"),
		RunE: s.run,
	}
	f := cmd.Flags()
	f.StringArrayVar(&s.vary, "vary", nil, "what is varied: `NAME=LOW:HIGH:COUNT`, with the same unit at both ends, or NAME=WORD,WORD; may be given again")
	f.StringVar(&s.design, "design", string(sweep.Grid), "which settings are tried: grid for all combinations, latin for a Latin hypercube, or sobol; the last two take --points and no COUNT")
	f.IntVar(&s.points, "points", 0, "how many settings a latin or sobol design tries")
	f.StringArrayVar(&s.goals, "goal", nil, "a finding's `NAME` whose value is to be small, such as circulating.energy, or large where its limit is a least one; or writes_per_hour, reads_per_hour, share. Given again, the settings that nothing beats in all of them are shown")
	f.IntVar(&s.input.seeds, "seeds", 1, "play each scenario with `N` seeds, from its own or --seed on")
	f.IntVar(&s.fresh, "fresh-seeds", 5, "on how many other seeds the recommended setting is tried; 0 leaves that out")
	f.IntVar(&s.sites, "sites", 20, "on how many other sites it is tried; 0 leaves that out")
	f.Var(&s.spread, "spread", "by how much other sites differ")
	f.StringVar(&s.out, "out", "", "folder for the results; kilter-runs/N by default")
	f.BoolVar(&s.resume, "resume", false, "go on with the sweep in the --out folder: what has been played there is not played again")
	s.who.flags(cmd)
	s.where.flags(cmd)
	s.input.flags(cmd)
	offerScenarios(cmd)
	offer(cmd, "design", string(sweep.Grid), string(sweep.Latin), string(sweep.Sobol))
	offer(cmd, "goal", sweep.ShareGoal, sweep.WritesGoal, sweep.ReadsGoal)
	return cmd
}

func (s *sweeper) run(cmd *cobra.Command, names []string) error {
	if err := s.settle(cmd, names); err != nil {
		return err
	}
	first, err := s.plan.Cases()
	if err != nil {
		return err
	}
	player, err := s.player()
	if err != nil {
		return err
	}
	name, err := s.claim()
	if err != nil {
		return err
	}
	defer s.abandon()
	ctx := cmd.Context()
	q, err := s.where.open(ctx, s.file(queueFolder))
	if err != nil {
		return err
	}
	defer q.Close()
	if s.session, err = s.where.session(ctx, q, name, player); err != nil {
		return err
	}
	defer s.session.Close()
	goals, err := s.findGoals(cmd, first)
	if err != nil {
		return err
	}
	if err := s.hear(cmd, first); err != nil {
		return err
	}
	s.begun = true
	if err := s.play(cmd, first); err != nil {
		return err
	}
	summary, err := s.conclude(cmd, goals)
	if err != nil {
		return err
	}
	if err := s.write(summary); err != nil {
		return err
	}
	if err := s.tell(cmd, summary); err != nil {
		return err
	}
	if summary.Passing == 0 {
		return coded{code: verdict.ExitFailed}
	}
	return nil
}

// player plays this sweep's runs.
func (s *sweeper) player() (*campaign.Player, error) {
	player, err := ownPlayer(commandsOf(&s.plan.Controller)...)
	if err != nil {
		return nil, err
	}
	player.Variables = s.plan.Variables()
	return player, nil
}

// settle reads what was given into a plan.
func (s *sweeper) settle(cmd *cobra.Command, names []string) error {
	if len(s.vary) == 0 {
		return errors.New("--vary is missing: there is nothing to try; such as --vary hold=30s:90s:3 with --policy 'steady --hold {hold}'")
	}
	switch {
	case s.input.seeds < 1:
		return fmt.Errorf("--seeds %d: must be 1 or more", s.input.seeds)
	case s.fresh < 0:
		return fmt.Errorf("--fresh-seeds %d: must be 0 or more", s.fresh)
	case s.sites < 0:
		return fmt.Errorf("--sites %d: must be 0 or more", s.sites)
	case s.spread <= 0 || s.spread >= 1:
		return fmt.Errorf("--spread %v: must be above 0%% and below 100%%", s.spread.String())
	case s.resume && s.out == "":
		return errors.New("--resume: which sweep? Give its folder with --out")
	case !slices.Contains(sweep.Designs, sweep.Design(s.design)):
		return fmt.Errorf("--design %q: must be grid, latin or sobol", s.design)
	case s.design == string(sweep.Grid) && cmd.Flags().Changed("points"):
		return errors.New("--points: a grid has as many points as its values make; --points is for --design latin and sobol")
	case s.design != string(sweep.Grid) && !cmd.Flags().Changed("points"):
		return fmt.Errorf("--design %s: how many settings? Give --points", s.design)
	}
	if err := s.where.settle(cmd); err != nil {
		return err
	}
	p := &s.plan
	var err error
	if p.Controller, err = s.who.settle(cmd); err != nil {
		return err
	}
	for _, text := range s.vary {
		k, err := sweep.ParseKnob(text)
		if err != nil {
			return fmt.Errorf("--vary %w", err)
		}
		for _, other := range p.Knobs {
			if other.Name == k.Name {
				return fmt.Errorf("--vary %s: given twice", k.Name)
			}
		}
		p.Knobs = append(p.Knobs, k)
	}
	if p.Points, err = sweep.Points(sweep.Design(s.design), p.Knobs, s.points); err != nil {
		return fmt.Errorf("--vary %w", err)
	}
	p.Seeds = s.input.seeds
	one := s.input
	one.seeds = 1
	list, err := one.load(names)
	if err != nil {
		return err
	}
	for _, in := range list {
		story, err := sweep.NewStory(in.name, in.scenario)
		if err != nil {
			return err
		}
		p.Stories = append(p.Stories, story)
	}
	return nil
}

// findGoals looks for the goals in what the first setting finds, so that a wrong name shows at once.
func (s *sweeper) findGoals(cmd *cobra.Command, first []sweep.Case) ([]sweep.Goal, error) {
	if len(s.goals) == 0 {
		return nil, nil
	}
	var runs []campaign.Run
	for i := 0; i < len(first) && first[i].Point == first[0].Point; i += s.plan.Seeds {
		runs = append(runs, first[i].Run)
	}
	results, err := s.early(cmd, runs)
	if err != nil {
		return nil, err
	}
	var goals []sweep.Goal
	for _, name := range s.goals {
		g, err := sweep.FindGoal(name, results)
		if err != nil {
			return nil, fmt.Errorf("--goal: %w", err)
		}
		if slices.Contains(goals, g) {
			return nil, fmt.Errorf("--goal %s: given twice", name)
		}
		goals = append(goals, g)
	}
	return goals, nil
}

// hear plays the first run of the first setting, of the last and of one between. A controller that comes in none of them would let
// all the others wait for it as well.
func (s *sweeper) hear(cmd *cobra.Command, first []sweep.Case) error {
	last := len(s.plan.Points) - 1
	var runs []campaign.Run
	for _, point := range []int{0, last / 2, last} {
		i := slices.IndexFunc(first, func(c sweep.Case) bool { return c.Point == point })
		runs = append(runs, first[i].Run)
	}
	results, err := s.early(cmd, runs)
	if err != nil {
		return err
	}
	for _, r := range results {
		if r.FaultKind != verdict.ControllerNeverCame {
			return nil
		}
	}
	try, err := checkLine(&runs[0].Controller, s.plan.Stories[0].Given)
	if err != nil {
		return err
	}
	return coded{verdict.ExitControllerGone, fmt.Errorf("in none of the first runs the controller came: %s; what it prints shows\n  %s", results[0].Fault, strings.Join(try, " "))}
}

// early plays runs before the rest.
func (s *sweeper) early(cmd *cobra.Command, runs []campaign.Run) ([]*campaign.Result, error) {
	done := s.session.Done()
	results, err := s.session.Do(cmd.Context(), runs, nil)
	if err != nil {
		s.begun = true // some may have been played
		return nil, s.interrupted(cmd, err)
	}
	s.before += s.session.Done() - done
	return results, nil
}

package main

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"os"
	"runtime"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"kilter/emulator"
	"kilter/suites"
	"kilter/suites/campaign"
	"kilter/suites/onecore"
	"kilter/suites/report"
	"kilter/suites/verdict"
)

// check is one call of kilter check.
type check struct {
	input    inputs
	commands []string
	speaks   string
	policy   string
	pace     string
	poll     time.Duration
	out      string
	json     bool
	strict   bool
	silent   bool // no record of the traffic
	jobs     int
	anyCore  bool
	baseline baseline
	again    again
	patience time.Duration
	attach   bool
	at       place
	allowed  allowance
	secure   security

	controller suites.Controller
	beside     []suites.Controller
	paceOf     emulator.Pace
	tls        *tls.Config
	controlArg []string // how the controller was named, for reproduction
}

func newCheck() *cobra.Command {
	var c check
	cmd := &cobra.Command{
		Use:   "check [SCENARIO ...]",
		Short: "Judge a controller by scenarios; all built-in ones against steady by default",
		Example: `  kilter check
  kilter check left-alone --policy none
  kilter check ev-start my-bad-day.yaml --controller 'python3 mine.py'
  kilter check calm-start --controller './mine --meter {grid_meter.address} --unit {grid_meter.unit}'
  kilter check calm-start --attach --port 15020 --pace real
  kilter check cloud-flicker --sky irradiance.csv
  kilter check --seeds 20 --jobs 4
  kilter check --from kilter-runs/0001 --must limits.yaml`,
		RunE: c.run,
	}
	f := cmd.Flags()
	f.StringArrayVar(&c.commands, "controller", nil, "the controller's `COMMAND`, such as 'python3 mine.py', or NAME=COMMAND; it finds the bench through KILTER_BENCH, or through placeholders such as {north.address}. Given again, several play at once")
	f.BoolVar(&c.attach, "attach", false, "the controller runs already: wait for its first request, up to --patience; see --port and --bench-file")
	f.StringVar(&c.policy, "policy", "steady", "a controller that comes along: steady, none for the inverters left alone, or wrong/NAME for one that is wrong on purpose; arguments of its own may stand behind it, as in 'steady --hold 30s'")
	f.StringVar(&c.pace, "pace", "stepped", "what moves simulated time: stepped, real, xN for N times as fast, such as x20, or follow for pollers that know nothing of the bench")
	f.StringVar(&c.speaks, "speaks", "modbus", "how the --controller speaks to the bench: modbus, or lines of JSON on its standard input and output")
	f.DurationVar(&c.poll, "poll", 10*time.Second, pollUsage)
	f.StringVar(&c.out, "out", "", "run folder; kilter-runs/N by default")
	f.BoolVar(&c.json, "json", false, "print verdict.json instead of the table")
	f.BoolVar(&c.strict, "strict", false, "undetermined and not exercised count as failed")
	f.DurationVar(&c.patience, "patience", 20*time.Second, "how long on the wall clock the controller may take to its first wait or poll, and from one to the next")
	f.BoolVar(&c.silent, "no-traffic", false, "keep no traffic.pcap, for long runs")
	f.IntVar(&c.jobs, "jobs", 0, "how many runs at a time; as many as there are cores by default, and one in real pace and xN")
	f.BoolVar(&c.anyCore, "any-core", false, "do not keep the bench and its controller on one core, as it is done for one stepped run at a time, since they wait for each other; for a controller that computes on several cores")
	f.IntVar(&c.input.seeds, "seeds", 1, "judge over `N` seeds, from the scenario's own or --seed on, and tell the worst margin of each criterion")
	c.baseline.flags(cmd)
	c.again.flags(cmd)
	c.input.flags(cmd)
	c.at.flags(cmd)
	c.allowed.flags(cmd)
	c.secure.flags(cmd)
	offerScenarios(cmd)
	return cmd
}

func (c *check) run(cmd *cobra.Command, names []string) error {
	if c.again.folder != "" {
		list, err := c.again.load(cmd, names, c.out)
		if err != nil {
			return err
		}
		return c.judge(cmd, list, c.again.play)
	}
	if c.again.must != "" {
		return errors.New("--must is for --from, which judges a recorded run again; write the limits into the scenario instead")
	}
	list, err := c.input.load(names)
	if err != nil {
		return err
	}
	if c.paceOf, err = settlePace(c.pace, c.poll, cmd.Flags().Changed("poll")); err != nil {
		return err
	}
	if !cmd.Flags().Changed("patience") {
		c.patience = 0 // the bench knows
	} else if c.patience <= 0 {
		return fmt.Errorf("--patience %v: must be longer than 0 s", c.patience)
	}
	if c.tls, err = c.secure.config(); err != nil {
		return err
	}
	if err := errors.Join(c.at.check(), c.allowed.settle()); err != nil {
		return err
	}
	if err := c.choose(cmd, len(list)); err != nil {
		return err
	}
	return c.judge(cmd, list, c.play)
}

// judge plays each of a list, and concludes.
func (c *check) judge(cmd *cobra.Command, list []input, play func(context.Context, input, *evidence, func(time.Duration)) (*suites.Outcome, error)) error {
	if err := c.checkJobs(); err != nil {
		return err
	}
	if err := c.baseline.load(); err != nil {
		return err
	}
	c.jobs = min(c.jobs, len(list))
	e := newEvidence(list)
	var err error
	if e.folder, err = runFolder(c.out); err != nil {
		return err
	}
	board := newBoard(cmd.ErrOrStderr(), list)
	var cases []suites.Case
	for i, in := range list {
		cases = append(cases, suites.Case{
			Name: e.nameOf(in.scenario.Name, in.scenario.Seed), Scenario: in.scenario, Done: e.keep(i),
			Play: func(ctx context.Context) (*suites.Outcome, error) {
				at, done := board.begin(in)
				defer done()
				out, err := play(ctx, in, e, at)
				if err == nil {
					out, err = e.write(out)
				}
				return out, err
			},
		})
	}
	cases, wait := suites.Ahead(cmd.Context(), c.jobs, cases)
	ran := suites.RunAcceptance(cmd.Context(), c.strict, cases...)
	wait()
	board.end()
	e.settle()
	return c.conclude(cmd, e, ran)
}

// checkJobs settles how many runs go on at a time. Where the wall clock moves time, they would take it from one another.
func (c *check) checkJobs() error {
	switch {
	case c.jobs < 0:
		return fmt.Errorf("--jobs %d: must be 1 or more", c.jobs)
	case c.jobs == 0 && (c.paceOf <= 0 || c.again.folder != ""): // stepped, follow or recorded
		c.jobs = runtime.GOMAXPROCS(0)
	case c.jobs == 0:
		c.jobs = 1
	}
	if c.input.seeds < 1 {
		return fmt.Errorf("--seeds %d: must be 1 or more", c.input.seeds)
	}
	return nil
}

// choose settles which controller is put to the test.
func (c *check) choose(cmd *cobra.Command, runs int) error {
	if err := c.settleWays(cmd, runs); err != nil {
		return err
	}
	if c.attach {
		c.toAttach(cmd)
		return nil
	}
	if c.commands != nil {
		return c.byCommands()
	}
	if c.speaks != "modbus" {
		return fmt.Errorf("--speaks %s: only a --controller can speak so", c.speaks)
	}
	c.controlArg = []string{"--policy", quote(c.policy)}
	if err := checkPolicy(c.policy); err != nil {
		return err
	}
	player, err := ownPlayer()
	if err != nil {
		return err
	}
	c.controller, err = player.Starts(&campaign.Controller{Policy: c.policy})
	return err
}

// hushAfter is when a run is known to last: its controller is at work by then.
const hushAfter = 100 * time.Millisecond

func (c *check) play(ctx context.Context, in input, e *evidence, at func(time.Duration)) (*suites.Outcome, error) {
	opt := suites.Options{
		TLS: c.tls, Pace: c.paceOf, Poll: c.poll, Controller: c.controller, Beside: c.beside, Reproduce: c.reproduce(in), Progress: at, Patience: c.patience,
		Host: c.at.listen, Port: c.at.port, Limits: c.allowed.limits,
	}
	log := &cappedLog{}
	opt.Log = log
	var traffic *trafficFile
	if (len(c.controller.Command) > 0 || c.attach) && !c.silent {
		var err error
		if traffic, err = newTrafficFile(e.of(in.scenario.Name, in.scenario.Seed)); err != nil {
			return nil, err
		}
		defer traffic.drop()
		opt.Traffic = traffic.half
	}
	if c.paceOf == emulator.Stepped && c.jobs == 1 && len(c.controller.Command) > 0 && !c.anyCore {
		defer onecore.Keep(onecore.Here())()
		defer onecore.Hush(hushAfter)()
	}
	out, err := suites.Play(ctx, in.scenario, opt)
	if err == nil && traffic != nil {
		err = traffic.keep()
	}
	if err == nil && len(c.controller.Command) > 0 {
		err = e.keepLog(in.scenario, log.kept())
	}
	return out, err
}

// reproduce is the one command that repeats a run.
func (c *check) reproduce(in input) string {
	words := append([]string{"kilter", "check", quote(in.name)}, c.controlArg...)
	words = append(words, c.paceWords()...)
	words = append(append(words, c.at.words()...), c.secure.words()...)
	return strings.Join(append(words, c.input.words(in.scenario)...), " ")
}

// conclude tells the verdict, and turns it into an exit code.
func (c *check) conclude(cmd *cobra.Command, e *evidence, ran suites.AcceptanceReport) error {
	if err := cmd.Context().Err(); err != nil {
		return coded{exitUsage, errors.New("interrupted; finished runs are in " + e.folder)}
	}
	if err := errors.Join(e.errs...); err != nil {
		return err
	}
	if len(e.runs) != e.wanted {
		return coded{verdict.ExitBenchFault, fmt.Errorf("%d of %d runs were judged; %s", len(e.runs), e.wanted, suites.Panicked(ran))}
	}
	v := verdict.New(e.runs...)
	if err := e.conclude(v, ran); err != nil {
		return err
	}
	if c.json {
		if err := v.Write(cmd.OutOrStdout()); err != nil {
			return err
		}
	} else {
		if err := report.TableBeside(cmd.OutOrStdout(), v, useColour(os.Stdout), e.spark); err != nil {
			return err
		}
		fmt.Fprintf(cmd.OutOrStdout(), "evidence: %s\n", e.folder)
	}
	if err := e.tellLastWords(cmd); err != nil {
		return err
	}
	code := v.ExitCode(c.strict)
	if code == verdict.ExitPassed || code == verdict.ExitFailed {
		var err error
		if code, err = c.baseline.settle(cmd, e, v, code, c.json); err != nil {
			return err
		}
	}
	if code != verdict.ExitPassed {
		return coded{code: code}
	}
	return nil
}

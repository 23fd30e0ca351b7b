package suites

import (
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"time"

	"kilter/emulator"
	"kilter/emulator/trace"
	"kilter/physics"
	"kilter/scenarios"
	"kilter/suites/criteria"
	"kilter/suites/verdict"
)

// Controller is what is put to the test.
type Controller struct {
	// Name is how verdicts call it.
	Name string
	// Command is the program and its arguments. Without one nobody is on the wire, and the
	// inverters' native loops are left alone.
	Command []string
}

// Options tune a play.
type Options struct {
	Pace       emulator.Pace
	Controller Controller
	// Log receives the controller's output; nil discards it.
	Log io.Writer
	// Reproduce is the command that repeats the run, for the verdict.
	Reproduce string
	// Patience is how long on the wall clock the controller may take to its first wait, and from
	// one wait to the next; 0 is the bench's default.
	Patience time.Duration
	// Progress is called about every simulated minute with the simulated time.
	Progress func(at time.Duration)
}

// Outcome is one play and its evidence.
type Outcome struct {
	Scenario *scenarios.Scenario
	Run      verdict.Run
	Results  []criteria.Result
	Trace    *trace.Recorder
	// Parquet is the trace as it stands in the run folder; its hash is in the verdict.
	Parquet  []byte
	Commands []emulator.Command
	Writes   []emulator.Write // every request to write, with what became of it
	Events   []scenarios.Event
	File     emulator.File // what the controller was told; zero without a controller
}

// Play plays a scenario against a controller and judges it. An error means that there is
// nothing to judge, since the input was wrong or a port in use; a controller that never came, or
// a bench whose books do not balance, is an outcome with Run.Error.
func Play(ctx context.Context, sc *scenarios.Scenario, opt Options) (*Outcome, error) {
	out := &Outcome{Scenario: sc}
	var j *judge
	var rec *trace.Recorder
	pace := opt.Pace
	if len(opt.Controller.Command) == 0 && pace == emulator.Stepped {
		pace = emulator.Free // nobody waits, and nobody reads
	}
	bench, err := emulator.New(sc, emulator.Options{
		Pace: pace, StartTimeout: opt.Patience, StallTimeout: opt.Patience,
		Expect: len(opt.Controller.Command) > 0,
		Observe: []func(*emulator.Tick){func(t *emulator.Tick) {
			j.see(t)
			rec.Step(t.Plant)
			out.Commands = append(out.Commands, t.Commands...)
			out.Writes = append(out.Writes, t.Writes...)
			out.Events = append(out.Events, t.Events...)
			if opt.Progress != nil && t.Plant.TimeMS()%60_000 == 0 {
				opt.Progress(time.Duration(t.Plant.TimeMS()) * time.Millisecond)
			}
		}},
	})
	if err != nil {
		return nil, err
	}
	defer bench.Close()
	if j, err = newJudge(sc); err != nil {
		return nil, err
	}
	rec = trace.New(sc, bench.Plant())
	out.Trace = rec

	ended := run(ctx, bench, pace, opt, out)
	var gone *emulator.ControllerError
	if ended != nil && !errors.As(ended, &gone) {
		return nil, ended
	}
	out.Results = j.results()
	out.Writes = append(out.Writes, bench.Unseen()...)
	slices.SortStableFunc(out.Writes, func(x, y emulator.Write) int { return cmp.Compare(x.Tick, y.Tick) })
	var file bytes.Buffer
	if err := rec.WriteParquet(&file); err != nil {
		return nil, err
	}
	out.Parquet = file.Bytes()
	r := describe(out, opt, bench.Plant(), gone)
	if len(opt.Controller.Command) > 0 {
		r.Wire = wire(sc, out.Writes, bench.Traffic())
	}
	out.Run = verdict.New(r).Runs[0]
	return out, nil
}

// run starts the controller if there is one, runs the bench, and stops the controller.
func run(ctx context.Context, bench *emulator.Bench, pace emulator.Pace, opt Options, out *Outcome) error {
	if pace == emulator.Free || len(opt.Controller.Command) == 0 {
		return bench.Run(ctx, nil)
	}
	out.File = bench.File()
	folder, err := os.MkdirTemp("", "kilter-bench-")
	if err != nil {
		return fmt.Errorf("a folder for the bench file: %w", err)
	}
	defer os.RemoveAll(folder)
	file := filepath.Join(folder, "bench.json")
	if err := bench.WriteFile(file); err != nil {
		return err
	}
	log := opt.Log
	if log == nil {
		log = io.Discard
	}
	controller, err := emulator.StartProcess(opt.Controller.Command, file, log)
	if err != nil {
		return err
	}
	ended := bench.Run(ctx, controller.Gone())
	// The bench closes first, so that a controller that waits sees the end and not a signal.
	bench.Close()
	controller.Stop(time.Second, 2*time.Second)
	return ended
}

// Cautions stand in every report.
var Cautions = []string{
	"A bench result is evidence and not proof: the plant is a model, and a real site differs from it.",
	"Mains work and protection settings belong to licensed people and local codes.",
	"Never point a controller under test, or the bench's writes, at real equipment.",
}

// columns names the trace's columns in which each criterion is seen.
var columns = map[string][]string{
	"import":      {"grid_w", "net_load_w"},
	"export":      {"grid_w", "net_load_w"},
	"settle":      {"grid_w", "net_load_w"},
	"hunting":     {"grid_w", "net_load_w"},
	"circulating": {"circulating_w"},
}

// describe writes the verdict on one play.
func describe(out *Outcome, opt Options, p *physics.Plant, gone *emulator.ControllerError) verdict.Run {
	sc := out.Scenario
	hash := sha256.Sum256(out.Parquet)
	audit := p.Audit()
	r := verdict.Run{
		Scenario: sc.Name, Title: sc.Title, Site: sc.Site.Name, Seed: sc.Seed,
		Pace: opt.Pace.String(), Controller: opt.Controller.Name,
		StartedLocal: sc.Starts.Format("2006-01-02 15:04 ") + sc.Zone.String(),
		StepMS:       verdict.Of(float64(sc.Step.Milliseconds())),
		DurationS:    verdict.Seconds(float64(p.TimeMS()) / 1000),
		TraceSHA256:  hex.EncodeToString(hash[:]),
		Audit: verdict.Audit{
			WorstNodeW: verdict.Of(audit.WorstNodeW), EnergyResidualWh: verdict.Of(audit.EnergyResidualWh),
			WorstAtS: verdict.Seconds(float64(audit.WorstAtTick) * sc.Step.Seconds()),
			LimitW:   verdict.Of(physics.AuditLimitW), LimitWh: verdict.Of(physics.AuditLimitWh),
		},
		Reproduce: opt.Reproduce,
		Cautions:  Cautions,
	}
	for _, c := range out.Results {
		r.Criteria = append(r.Criteria, finding(c, out.Trace))
	}
	switch {
	case !audit.Ok():
		r.Error = &verdict.RunError{Kind: verdict.BenchFault, Detail: fmt.Sprintf(
			"the audit failed: a node was %g W out of balance, and %g Wh came from nowhere; this is a fault of the bench and not of the controller",
			audit.WorstNodeW, audit.EnergyResidualWh)}
	case gone != nil:
		kind := verdict.ControllerNeverCame
		if gone.Came {
			kind = verdict.ControllerDied
		}
		r.Error = &verdict.RunError{Kind: kind, Detail: gone.Text, AtS: r.DurationS}
	}
	return r
}

// finding turns a criterion's result into its line of the verdict.
func finding(c criteria.Result, rec *trace.Recorder) verdict.Criterion {
	f := verdict.Criterion{
		Name: c.Name, Status: verdict.Status(c.Status), Exercised: c.Exercised,
		Unit: c.Unit, Detail: c.Detail, Bound: verdict.AtMost, Columns: columns[c.Name],
	}
	if c.Status == criteria.Failed {
		f.Avoidable = &c.Avoidable
	}
	if c.Valid {
		f.Margin, f.Observed, f.Limit = thousandths(c.Margin), thousandths(c.Observed), thousandths(c.Limit)
		f.AtS = verdict.Seconds(c.AtS)
	}
	if len(c.Clauses) > 0 {
		f.Formula = c.Clauses[0].Formula
	}
	switch c.Name {
	case "import", "circulating":
		f.TraceLimit = f.Limit
	case "export":
		f.TraceLimit = verdict.Of(-c.Limit)
	case "soc_spread":
		for _, col := range rec.Columns {
			if col.Kind == trace.SOC {
				f.Columns = append(f.Columns, col.Name)
			}
		}
	}
	return f
}

// thousandths rounds a figure to what is worth telling; a picowatt is rounding.
func thousandths(v float64) verdict.Number { return verdict.Of(math.Round(v*1000) / 1000) }

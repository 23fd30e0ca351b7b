package suites

import (
	"bytes"
	"cmp"
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"io"
	"slices"
	"sync"
	"time"

	"kilter/emulator"
	"kilter/emulator/capture"
	"kilter/emulator/trace"
	"kilter/scenarios"
	"kilter/suites/criteria"
	"kilter/suites/verdict"
)

// Options tune a play.
type Options struct {
	Pace emulator.Pace
	// Poll is the controllers' poll period in pace follow, 10 seconds by default.
	Poll       time.Duration
	Controller Controller
	// Beside are more controllers, at the same time as the first. What a scenario does to the controller it does to the
	// first.
	Beside []Controller
	// Log receives the controller's output; nil discards it.
	Log io.Writer
	// Traffic takes what goes over the wire, as pcap; nil records none of it.
	Traffic io.Writer
	// Reproduce is the command that repeats the run, for the verdict.
	Reproduce string
	// Host and Port are where the bench answers, 127.0.0.1 and free ports by default; see emulator.Options.
	Host string
	Port int
	// TLS, if not nil, makes the devices on TCP speak Modbus/TCP Security.
	TLS *tls.Config
	// Patience is how long on the wall clock the controller may take to its first wait, and from
	// one wait to the next; 0 is the bench's default.
	Patience time.Duration
	// Limits are what the controller may use; zero takes the defaults.
	Limits emulator.Limits
	// Progress is called about every simulated minute with the simulated time.
	Progress func(at time.Duration)

	again *Recording // is played in the place of a controller
	once  bool       // nothing is played a second time to decide what the first left open
}

// Outcome is one play and its evidence.
type Outcome struct {
	Scenario *scenarios.Scenario
	Run      verdict.Run
	Results  []criteria.Result
	scenes   []*scene // by result: how it came to fail
	Trace    *trace.Recorder
	// Parquet is the trace as it stands in the run folder; its hash is in the verdict.
	Parquet []byte
	Record  emulator.Record
	Writes  []emulator.Write // every request to write, with what became of it
	Events  []scenarios.Event
	File    emulator.File // what the controller was told; zero without a controller
}

// Play plays a scenario against a controller and judges it. An error means that there is
// nothing to judge, since the input was wrong or a port in use; a controller that never came, or
// a bench whose books do not balance, is an outcome with Run.Error.
func Play(ctx context.Context, sc *scenarios.Scenario, opt Options) (*Outcome, error) {
	if err := opt.check(sc); err != nil {
		return nil, err
	}
	out := &Outcome{Scenario: sc}
	var j *judge
	var rec *trace.Recorder
	pace := opt.Pace
	if !opt.Controller.Comes() && pace <= 0 {
		pace = emulator.Free // nobody waits, and nobody reads
	}
	var frames *capture.Recorder
	if opt.Traffic != nil && pace != emulator.Free {
		frames = capture.New(opt.Traffic, sc.Starts)
	}
	keep := opt.keeper()
	bench, err := emulator.New(sc, emulator.Options{
		Capture: frames,
		TLS:     opt.TLS,
		Host:    opt.Host, Port: opt.Port, Attach: opt.Controller.Attach != nil,
		Controllers: keep,
		Pace:        pace, StartTimeout: opt.Patience, StallTimeout: opt.Patience,
		Poll: opt.Poll, Several: opt.names(),
		Expect: opt.Controller.Comes(), Inside: opt.inside(), Replay: opt.again.record(),
		Observe: []func(*emulator.Tick){func(t *emulator.Tick) {
			j.see(t)
			rec.Step(t.Plant)
			out.Record.Take(t)
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
	var file bytes.Buffer
	finish := sync.OnceValue(rec.PackInto(&file))
	defer finish()

	ended := run(ctx, bench, keep, opt, out)
	var gone *emulator.ControllerError
	if ended != nil && !errors.As(ended, &gone) {
		return nil, ended
	}
	if frames != nil {
		if err := frames.Close(); err != nil {
			return nil, fmt.Errorf("the record of the traffic: %w", err)
		}
	}
	out.Results, out.scenes = j.results(), j.scenes
	if gone == nil {
		if err := confirmHunting(ctx, sc, opt, out); err != nil {
			return nil, err
		}
	}
	out.Writes = append(out.Writes, bench.Unseen()...)
	slices.SortStableFunc(out.Writes, func(x, y emulator.Write) int { return cmp.Compare(x.Tick, y.Tick) })
	if err := finish(); err != nil {
		return nil, err
	}
	out.Parquet = file.Bytes()
	r := describe(out, opt, bench.Plant(), gone)
	if opt.Controller.Comes() {
		lasted := time.Duration(bench.Plant().TimeMS()) * time.Millisecond
		r.Wire = wire(sc, out.Writes, bench.Traffic(), lasted)
		for i, c := range opt.all() {
			r.Wire.Controllers = append(r.Wire.Controllers, wireController(c.Name, bench.TrafficOf(i), len(opt.Beside) > 0, lasted))
		}
		r.Wire.Notes = append(r.Wire.Notes, bench.PassedOver()...)
	}
	r.Pacing = pacing(pace, bench.Lateness())
	if opt.again != nil {
		opt.again.resume(out, &r)
	}
	out.Run = verdict.New(r).Runs[0]
	return out, nil
}

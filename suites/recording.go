package suites

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"

	"kilter/emulator"
	"kilter/scenarios"
	"kilter/suites/verdict"
)

// Recording is a run that was kept in a folder, read back to be judged again.
type Recording struct {
	Folder   string
	Scenario *scenarios.Scenario
	Run      verdict.Run

	took   emulator.Record
	writes []emulator.Write
}

// ReadRecording reads the folder of one run. The criteria are those of its scenario.yaml, or of the file limits if that
// is not empty: what stands under must there, alone or in a whole scenario.
func ReadRecording(folder string, run verdict.Run, limits string) (*Recording, error) {
	r := &Recording{Folder: folder, Run: run}
	path := filepath.Join(folder, "scenario.yaml")
	sc, err := scenarios.LoadScenario(path)
	if err == nil && limits != "" {
		sc, err = scenarios.LoadWithMust(path, limits)
	}
	if err != nil {
		return nil, err
	}
	again := *sc
	again.Name = run.Scenario
	r.Scenario = &again
	if sc.Seed != run.Seed {
		return nil, fmt.Errorf("%s: seed: found %d, but the run was recorded with %d; only what stands under must may be edited", path, sc.Seed, run.Seed)
	}
	if run.Wire == nil {
		return r, nil // nobody was on the wire
	}
	seconds, known := run.DurationS.Value()
	if !known {
		return nil, fmt.Errorf("%s: the verdict does not say how long the run lasted; record it anew", folder)
	}
	r.took.EndMS = int64(seconds*1000 + 0.5)
	devices := newSetting(r.Scenario).devices
	err = errors.Join(
		readStream(filepath.Join(folder, "commands.csv"), commandsHead, func(l line) { r.took.Commands = append(r.took.Commands, l.command()) }),
		readStream(filepath.Join(folder, "wire.csv"), seenHead, func(l line) { r.took.Seen = append(r.took.Seen, l.seen(devices)) }),
		readStream(filepath.Join(folder, "writes.csv"), writesHead, func(l line) { r.writes = append(r.writes, l.write()) }),
	)
	if err != nil {
		return nil, err
	}
	return r, nil
}

// Judge moves the plant again by the recorded commands and judges what it does. It refuses a recording with whose trace
// the plant's does not agree bit for bit, since its verdict would be about another run. The wire's account and the way in
// which the controller ended are the recorded ones.
func (r *Recording) Judge(ctx context.Context, opt Options) (*Outcome, error) {
	opt.Controller, opt.Pace, opt.again = Controller{Name: r.Run.Controller}, emulator.Free, r
	out, err := Play(ctx, r.Scenario, opt)
	if err != nil {
		return nil, err
	}
	if out.Run.TraceSHA256 != r.Run.TraceSHA256 {
		return nil, fmt.Errorf("%s: the recording does not match: its commands move the plant to the trace %.12s, and %.12s was recorded; "+
			"the site, the story or the commands were edited, or another version recorded it. Only what stands under must may change",
			r.Folder, out.Run.TraceSHA256, r.Run.TraceSHA256)
	}
	return out, nil
}

// record is what the plant is to be moved by; nil where nobody was on the wire.
func (r *Recording) record() *emulator.Record {
	if r == nil || r.Run.Wire == nil {
		return nil
	}
	return &r.took
}

// resume takes over from the recording what is not played again.
func (r *Recording) resume(out *Outcome, run *verdict.Run) {
	out.Writes = r.writes
	run.Pace, run.Wire, run.Pacing = r.Run.Pace, r.Run.Wire, r.Run.Pacing
	if run.Error == nil {
		run.Error = r.Run.Error
	}
}

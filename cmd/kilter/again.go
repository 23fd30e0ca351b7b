package main

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"kilter/suites"
)

// again judges recorded runs once more, by their own limits or by others.
type again struct {
	folder string
	must   string

	recordings map[runKey]*suites.Recording
}

func (a *again) flags(cmd *cobra.Command) {
	cmd.Flags().StringVar(&a.folder, "from", "", "judge a recorded `RUN`, or a folder of them, again: the plant is moved by the recorded commands, and nobody is on the wire")
	cmd.Flags().StringVar(&a.must, "must", "", "with --from, the limits of this `FILE`: what stands under must, alone or in a scenario; those of the run's own scenario.yaml by default")
}

// excluded are the flags that say how a run is made, which a recorded one has behind it.
var excluded = []string{"controller", "policy", "pace", "seed", "seeds", "sky", "patience", "no-traffic"}

// load reads the recordings.
func (a *again) load(cmd *cobra.Command, names []string, out string) ([]input, error) {
	if len(names) > 0 {
		return nil, fmt.Errorf("--from judges the run in %s again: name no scenario beside it; other limits are given with --must FILE", a.folder)
	}
	for _, flag := range excluded {
		if cmd.Flags().Changed(flag) {
			return nil, fmt.Errorf("--from and --%s exclude one another: a recorded run has been made already", flag)
		}
	}
	if out != "" && within(a.folder, out) {
		return nil, fmt.Errorf("--out %s: would take the place of the run that is judged again; give another folder", out)
	}
	r, err := readRecorded(a.folder)
	if err != nil {
		return nil, err
	}
	a.recordings = map[runKey]*suites.Recording{}
	var list []input
	for _, run := range r.verdict.Runs {
		folder := r.folders[keyOf(run)]
		if folder == "" {
			return nil, fmt.Errorf("%s: the folder of %s, seed %d, is not there; a verdict alone cannot be judged again", a.folder, run.Scenario, run.Seed)
		}
		recording, err := suites.ReadRecording(folder, run, a.must)
		if err != nil {
			return nil, err
		}
		if err := suites.Check(recording.Scenario); err != nil {
			return nil, err
		}
		a.recordings[keyOf(run)] = recording
		list = append(list, input{folder, recording.Scenario})
	}
	if len(list) == 0 {
		return nil, errors.New(a.folder + ": the folder holds no run")
	}
	return list, nil
}

// within says whether one of two folders is the other, or lies in it.
func within(a, b string) bool {
	a, errA := filepath.Abs(a)
	b, errB := filepath.Abs(b)
	if errA != nil || errB != nil {
		return false
	}
	in := func(outer, inner string) bool {
		rel, err := filepath.Rel(outer, inner)
		return err == nil && rel != ".." && !strings.HasPrefix(rel, ".."+string(filepath.Separator))
	}
	return in(a, b) || in(b, a)
}

// play judges one of them.
func (a *again) play(ctx context.Context, in input, _ *evidence, at func(time.Duration)) (*suites.Outcome, error) {
	words := []string{"kilter", "check", "--from", quote(in.name)}
	if a.must != "" {
		words = append(words, "--must", quote(a.must))
	}
	return a.recordings[runKey{in.scenario.Name, in.scenario.Seed}].Judge(ctx, suites.Options{Reproduce: strings.Join(words, " "), Progress: at})
}

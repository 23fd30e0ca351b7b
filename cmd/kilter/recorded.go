package main

import (
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"

	"kilter/suites/verdict"
)

// recorded are the runs that a path leads to: a run folder, a folder of them, or a verdict alone.
type recorded struct {
	path    string
	verdict verdict.Verdict
	folders map[runKey]string // of the runs that have one
}

// runKey tells runs of one side apart.
type runKey struct {
	scenario string
	seed     uint64
}

func keyOf(run verdict.Run) runKey { return runKey{run.Scenario, run.Seed} }

// readRecorded reads a run folder, a folder of run folders, or the file of a verdict.
func readRecorded(path string) (*recorded, error) {
	r := &recorded{path: path, folders: map[runKey]string{}}
	info, err := os.Stat(path)
	if err != nil {
		return nil, fmt.Errorf("%s: no such run folder or verdict", path)
	}
	if !info.IsDir() {
		r.verdict, err = readVerdict(path)
		return r, err
	}
	var runs []verdict.Run
	err = filepath.WalkDir(path, func(at string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || d.Name() != verdictFile {
			return err
		}
		v, err := readVerdict(at)
		if err != nil || len(v.Runs) != 1 {
			return err
		}
		key, folder := keyOf(v.Runs[0]), filepath.Dir(at)
		if other, twice := r.folders[key]; twice {
			return fmt.Errorf("%s and %s hold the same scenario and seed; give the folder of one check", other, folder)
		}
		r.folders[key] = folder
		runs = append(runs, v.Runs[0])
		return nil
	})
	if err != nil {
		return nil, err
	}
	if whole, err := readVerdict(filepath.Join(path, verdictFile)); err == nil {
		r.verdict = whole
		return r, nil
	} else if !errors.Is(err, os.ErrNotExist) {
		return nil, err
	}
	if len(runs) == 0 {
		return nil, fmt.Errorf("%s: the folder holds no run", path)
	}
	slices.SortStableFunc(runs, func(a, b verdict.Run) int {
		return cmp.Or(cmp.Compare(a.Scenario, b.Scenario), cmp.Compare(a.Seed, b.Seed))
	})
	r.verdict = verdict.New(runs...)
	return r, nil
}

// verdictFile holds the verdict in a run folder.
const verdictFile = "verdict.json"

func readVerdict(path string) (verdict.Verdict, error) {
	f, err := os.Open(path)
	if err != nil {
		return verdict.Verdict{}, err
	}
	defer f.Close()
	v, err := verdict.Read(f)
	if err != nil {
		return v, fmt.Errorf("%s: %w", path, err)
	}
	return v, nil
}

// run finds the findings on a scenario and seed.
func (r *recorded) run(key runKey) (verdict.Run, bool) {
	for _, run := range r.verdict.Runs {
		if keyOf(run) == key {
			return run, true
		}
	}
	return verdict.Run{}, false
}

// called is how a comparison calls the side: the controllers, and where the runs are.
func (r *recorded) called() string {
	var names []string
	for _, run := range r.verdict.Runs {
		if !slices.Contains(names, run.Controller) {
			names = append(names, run.Controller)
		}
	}
	text := r.path
	for i, name := range names {
		text += []string{": ", ", "}[min(i, 1)] + name
	}
	return text
}

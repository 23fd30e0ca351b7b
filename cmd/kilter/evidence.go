package main

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path"
	"path/filepath"
	"sync"

	"github.com/spf13/cobra"

	"kilter/scenarios"
	"kilter/suites"
	"kilter/suites/report"
	"kilter/suites/verdict"
)

// evidence is what a check leaves on disk.
type evidence struct {
	folder    string
	wanted    int  // runs; the files of a single one stand in the folder itself
	scenarios bool // there are several scenarios, with a folder each
	seeds     bool // there are several seeds, with a folder each
	runs      []verdict.Run
	errs      []error
	slots     []*verdict.Run // by case: the suite has an order of its own
	sparks    sync.Map       // by a run's folder: its grid flow in a line, where the terminal can show one
}

func newEvidence(list []input) *evidence {
	e := &evidence{wanted: len(list), slots: make([]*verdict.Run, len(list))}
	for _, in := range list {
		e.scenarios = e.scenarios || in.scenario.Name != list[0].scenario.Name
		e.seeds = e.seeds || in.scenario.Name == list[0].scenario.Name && in.scenario.Seed != list[0].scenario.Seed
	}
	return e
}

// nameOf is how the suite calls a run.
func (e *evidence) nameOf(scenario string, seed uint64) string {
	if e.seeds {
		return fmt.Sprintf("%s seed %d", scenario, seed)
	}
	return scenario
}

// within is the path of a run's folder in the whole.
func (e *evidence) within(scenario string, seed uint64) string {
	folder := ""
	if e.scenarios {
		folder = scenario
	}
	if e.seeds {
		folder = filepath.Join(folder, fmt.Sprintf("seed-%d", seed))
	}
	return folder
}

func (e *evidence) of(scenario string, seed uint64) string {
	return filepath.Join(e.folder, e.within(scenario, seed))
}

// write keeps one outcome's files as soon as it is there, and lets go of all that is only in them: a check may have
// thousands of runs.
func (e *evidence) write(out *suites.Outcome) (*suites.Outcome, error) {
	if err := suites.WriteFolder(e.of(out.Run.Scenario, out.Run.Seed), out); err != nil {
		return nil, err
	}
	if drawsBlocks(os.Stdout) {
		e.sparks.Store(e.of(out.Run.Scenario, out.Run.Seed), report.Sparkline(out.Trace.Columns[0].Values, sparkWidth))
	}
	return &suites.Outcome{Scenario: out.Scenario, Run: out.Run}, nil
}

// sparkWidth leaves room for the range beside it in 80 columns.
const sparkWidth = 40

// spark is a run's grid flow in a line, or nothing.
func (e *evidence) spark(run verdict.Run) string {
	line, _ := e.sparks.Load(e.of(run.Scenario, run.Seed))
	text, _ := line.(string)
	return text
}

// keep takes the findings on a case in.
func (e *evidence) keep(i int) func(*suites.Outcome, error) {
	return func(out *suites.Outcome, err error) {
		if err != nil {
			e.errs = append(e.errs, err)
			return
		}
		e.slots[i] = &out.Run
	}
}

// settle puts the findings into the order in which the scenarios were named.
func (e *evidence) settle() {
	for _, run := range e.slots {
		if run != nil {
			e.runs = append(e.runs, *run)
		}
	}
}

func (e *evidence) keepLog(sc *scenarios.Scenario, text []byte) error {
	folder := e.of(sc.Name, sc.Seed)
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return fmt.Errorf("run folder: %w", err)
	}
	return suites.WriteWhole(filepath.Join(folder, logFile), text)
}

// logFile holds what a controller printed.
const logFile = "controller.log"

// tellLastWords prints what the controllers printed last that died or never came.
func (e *evidence) tellLastWords(cmd *cobra.Command) error {
	for _, run := range e.runs {
		path := filepath.Join(e.of(run.Scenario, run.Seed), logFile)
		if run.Error == nil || run.Error.Kind == verdict.BenchFault {
			continue
		}
		text, err := os.ReadFile(path)
		if errors.Is(err, os.ErrNotExist) {
			continue // one that the bench has not started prints elsewhere
		}
		if err != nil {
			return fmt.Errorf("run folder: %w", err)
		}
		if err := report.Tail(cmd.ErrOrStderr(), e.nameOf(run.Scenario, run.Seed), text, path); err != nil {
			return err
		}
	}
	return nil
}

func (e *evidence) conclude(v verdict.Verdict, ran suites.AcceptanceReport) error {
	if err := os.MkdirAll(e.folder, 0o755); err != nil {
		return fmt.Errorf("run folder: %w", err)
	}
	if err := suites.WriteVerdict(filepath.Join(e.folder, "verdict.json"), v); err != nil {
		return err
	}
	if len(v.Runs) > 1 {
		var page bytes.Buffer
		err := report.Summary(&page, v, func(run verdict.Run) string {
			return path.Join(filepath.ToSlash(e.within(run.Scenario, run.Seed)), "report.html")
		})
		if err == nil {
			err = suites.WriteWhole(filepath.Join(e.folder, "index.html"), page.Bytes())
		}
		if err != nil {
			return err
		}
	}
	return suites.WriteJUnit(filepath.Join(e.folder, "junit.xml"), ran)
}

package main

import (
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"kilter/scenarios"
	"kilter/suites"
	"kilter/suites/report"
	"kilter/suites/verdict"
)

// evidence is what a check leaves on disk.
type evidence struct {
	folder string
	wanted int // scenarios; the files of a single one stand in the folder itself
	runs   []verdict.Run
	errs   []error
}

func (e *evidence) of(name string) string {
	if e.wanted == 1 {
		return e.folder
	}
	return filepath.Join(e.folder, name)
}

// keep writes one outcome's files as soon as it is there.
func (e *evidence) keep(out *suites.Outcome, err error) {
	if err == nil {
		e.runs = append(e.runs, out.Run)
		err = suites.WriteFolder(e.of(out.Run.Scenario), out)
	}
	if err != nil {
		e.errs = append(e.errs, err)
	}
}

func (e *evidence) keepLog(sc *scenarios.Scenario, text []byte) error {
	folder := e.of(sc.Name)
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
		path := filepath.Join(e.of(run.Scenario), logFile)
		if run.Error == nil || run.Error.Kind == verdict.BenchFault {
			continue
		}
		text, err := os.ReadFile(path)
		if err != nil {
			return fmt.Errorf("run folder: %w", err)
		}
		if err := report.Tail(cmd.ErrOrStderr(), run.Scenario, text, path); err != nil {
			return err
		}
	}
	return nil
}

func (e *evidence) conclude(v verdict.Verdict, ran suites.Report) error {
	if err := os.MkdirAll(e.folder, 0o755); err != nil {
		return fmt.Errorf("run folder: %w", err)
	}
	if err := suites.WriteVerdict(filepath.Join(e.folder, "verdict.json"), v); err != nil {
		return err
	}
	return suites.WriteJUnit(filepath.Join(e.folder, "junit.xml"), ran)
}

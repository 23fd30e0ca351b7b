package main

import (
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"kilter/suites"
	"kilter/suites/compare"
	"kilter/suites/report"
	"kilter/suites/verdict"
)

// baseline is what a check is compared with, and whether it becomes one.
type baseline struct {
	path      string
	save      string
	tolerance share

	recorded *recorded
}

func (b *baseline) flags(cmd *cobra.Command) {
	b.tolerance = share(compare.DefaultTolerance)
	cmd.Flags().StringVar(&b.path, "baseline", "", "compare with the verdicts and margins of an earlier check: its folder, its verdict.json, or a `FILE` of --save-baseline; exit code 1 then means worse than that")
	cmd.Flags().StringVar(&b.save, "save-baseline", "", "write this check's verdicts and margins to a `FILE`, for --baseline")
	cmd.Flags().Var(&b.tolerance, "tolerance", "by how much of its limit a margin may differ from the baseline")
}

// load reads the baseline before anything is played.
func (b *baseline) load() (err error) {
	if b.path != "" {
		b.recorded, err = readRecorded(b.path)
	}
	return err
}

// settle compares a verdict with the baseline, if there is one, and turns the verdict's exit code into the comparison's.
func (b *baseline) settle(cmd *cobra.Command, e *evidence, v verdict.Verdict, code int, quiet bool) (int, error) {
	if b.recorded != nil {
		c, err := compare.Compare(b.recorded.verdict, v, compare.Options{Tolerance: float64(b.tolerance), Level: compare.DefaultLevel})
		if err != nil {
			return code, fmt.Errorf("--baseline %s: %w", b.path, err)
		}
		text, err := comparisonText(c)
		if err == nil {
			err = suites.WriteWhole(filepath.Join(e.folder, "comparison.json"), text)
		}
		if err == nil {
			var now *recorded
			if now, err = readRecorded(e.folder); err == nil {
				err = writeAgainst(filepath.Join(e.folder, "compare.html"), c, b.recorded, now)
			}
		}
		if err == nil && !quiet {
			fmt.Fprintf(cmd.OutOrStdout(), "\nagainst the baseline %s (A), this check (B):\n", b.path)
			err = report.Comparison(cmd.OutOrStdout(), c, useColour(os.Stdout))
		}
		if err != nil {
			return code, err
		}
		code = verdict.ExitPassed
		if c.Worse {
			code = verdict.ExitFailed
		}
	}
	if b.save != "" {
		return code, suites.WriteVerdict(b.save, v)
	}
	return code, nil
}

package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"kilter/suites"
	"kilter/suites/compare"
	"kilter/suites/report"
	"kilter/suites/verdict"
)

// share is a flag like 5 %, kept as a share.
type share float64

func (s *share) String() string { return strconv.FormatFloat(100*float64(*s), 'g', -1, 64) + "%" }
func (s *share) Type() string   { return "PERCENT" }
func (s *share) Set(text string) error {
	number, is := strings.CutSuffix(strings.TrimSpace(text), "%")
	v, err := strconv.ParseFloat(strings.TrimSpace(number), 64)
	if err != nil || !is {
		return fmt.Errorf("must be a share of the limit such as 5%%")
	}
	*s = share(v / 100)
	return nil
}

func newCompare() *cobra.Command {
	tolerance := share(compare.DefaultTolerance)
	var asJSON bool
	var out string
	cmd := &cobra.Command{
		Use:   "compare RUN_A RUN_B",
		Short: "Say what changed from one run, or folder of runs, to another, beyond what seeds explain",
		Long: `compare sets the verdicts and margins of B against those of A. Each side is a run folder, a folder of
them, or a verdict.json. A margin has changed where it moved by more than the tolerance and by more than
seeds explain: a signed-rank test on the seeds that both sides have, a rank-sum test on others, at 5 % for
all margins together. With one seed the differences are exact, and cannot be told from chance.

Exit code 1: B is worse.`,
		Example: `  kilter compare kilter-runs/0001 kilter-runs/0002
  kilter compare before after --out compare.html`,
		Args: takes(2, false, "two runs, or folders of runs"),
		RunE: func(cmd *cobra.Command, args []string) error {
			a, err := readRecorded(args[0])
			if err != nil {
				return err
			}
			b, err := readRecorded(args[1])
			if err != nil {
				return err
			}
			c, err := compare.Compare(a.verdict, b.verdict, compare.Options{Tolerance: float64(tolerance), Level: compare.DefaultLevel})
			if err != nil {
				return err
			}
			if err := writeAgainst(out, c, a, b); err != nil {
				return err
			}
			if asJSON {
				err = writeComparison(cmd, c)
			} else if err = report.Comparison(cmd.OutOrStdout(), c, useColour(os.Stdout)); err == nil {
				fmt.Fprintf(cmd.OutOrStdout(), "plots: %s\n", out)
			}
			if err != nil {
				return err
			}
			if c.Worse {
				return coded{code: verdict.ExitFailed}
			}
			return nil
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print the comparison as JSON")
	cmd.Flags().StringVar(&out, "out", "compare.html", "the page with the plots of both sides laid over one another")
	cmd.Flags().Var(&tolerance, "tolerance", "by how much of its limit a margin may move without being told as changed")
	return cmd
}

// comparisonText is a comparison as JSON.
func comparisonText(c compare.Comparison) ([]byte, error) {
	var buffer bytes.Buffer
	encoder := json.NewEncoder(&buffer)
	encoder.SetIndent("", "  ")
	encoder.SetEscapeHTML(false) // it is for people and tools, and no web page
	if err := encoder.Encode(c); err != nil {
		return nil, fmt.Errorf("comparison: %w", err)
	}
	return buffer.Bytes(), nil
}

func writeComparison(cmd *cobra.Command, c compare.Comparison) error {
	text, err := comparisonText(c)
	if err == nil {
		_, err = cmd.OutOrStdout().Write(text)
	}
	return err
}

// writeAgainst writes the page of a comparison.
func writeAgainst(path string, c compare.Comparison, a, b *recorded) error {
	var page bytes.Buffer
	err := report.Against(&page, c, report.Sides{
		A: a.called(), B: b.called(),
		Look: func(side byte, scenario string, seed uint64) (report.Recorded, bool) {
			of := map[byte]*recorded{'A': a, 'B': b}[side]
			key := runKey{scenario, seed}
			run, has := of.run(key)
			if !has || of.folders[key] == "" {
				return report.Recorded{}, false
			}
			series, err := suites.ReadSeries(filepath.Join(of.folders[key], "trace.parquet"), run)
			return report.Recorded{Run: run, Series: series}, err == nil
		},
	})
	if err != nil {
		return err
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	return suites.WriteWhole(path, page.Bytes())
}

package main

import (
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"kilter/suites/trust"
	"kilter/suites/verdict"
)

func newTrust() *cobra.Command {
	o := trust.Options{}
	var out, only string
	cmd := &cobra.Command{
		Use:     "trust",
		Short:   "Measure how often the judging is wrong",
		Example: "  kilter trust --out trust",
		Long: `trust draws random sites, stories and controllers that are stable, or unstable, by a truth which the
criteria never see, has them judged, and counts false alarms and misses. It takes some minutes, and
exits with 3 if there are more than 1 false alarm in 1000 criteria, or less than 99 % of the
unstable cases are found: the bench itself is at fault then.`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if only != "" {
				return oneCase(cmd, only, o.Seed)
			}
			o.Progress = cmd.ErrOrStderr()
			study, err := trust.Run(cmd.Context(), o)
			if err != nil {
				return coded{verdict.ExitBenchFault, err}
			}
			if err := study.Write(cmd.OutOrStdout()); err != nil {
				return err
			}
			if out != "" {
				if err := keepStudy(study, out); err != nil {
					return err
				}
			}
			if !study.Totals().Holds() {
				return coded{code: verdict.ExitBenchFault}
			}
			return nil
		},
	}
	cmd.Flags().IntVar(&o.Stable, "stable", 2000, "how many stable cases")
	cmd.Flags().IntVar(&o.Unstable, "unstable", 600, "how many unstable cases")
	cmd.Flags().Uint64Var(&o.Seed, "seed", trust.Fresh, "what the cases are drawn from")
	cmd.Flags().StringVar(&out, "out", "", "folder for the tables, each case's figures and a picture")
	cmd.Flags().StringVar(&only, "case", "", "play one case again and tell all of it, such as stable-17")
	return cmd
}

// oneCase tells all of one case.
func oneCase(cmd *cobra.Command, name string, seed uint64) error {
	kind, number, err := trust.ParseName(name)
	if err != nil {
		return err
	}
	outcome, err := trust.Play(kind, number)(seed)
	if err != nil {
		return coded{verdict.ExitBenchFault, err}
	}
	return outcome.Tell(cmd.OutOrStdout())
}

// keepStudy writes a study's files into a folder.
func keepStudy(study *trust.Study, folder string) error {
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return err
	}
	for _, f := range study.Files() {
		file, err := os.Create(filepath.Join(folder, f.Name))
		if err != nil {
			return err
		}
		if err := f.Write(file); err != nil {
			return fmt.Errorf("%s: %w", file.Name(), err)
		}
		if err := file.Close(); err != nil {
			return err
		}
	}
	return nil
}

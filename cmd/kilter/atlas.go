package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"kilter/suites/atlas"
	"kilter/suites/verdict"
)

func newAtlas() *cobra.Command {
	var out string
	cmd := &cobra.Command{
		Use:     "atlas",
		Short:   "Draw every model of the plant with the published values on it",
		Example: "  kilter atlas --out atlas",
		Long: `atlas writes one page, atlas.html, with a picture of each model of the plant, its formula and
source, the published values on it, and by how much the model misses them. It exits with 3 if a
value is missed by more than its tolerance: the bench itself is at fault then.`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			pictures, err := atlas.Pictures()
			if err != nil {
				return coded{verdict.ExitBenchFault, err}
			}
			var page bytes.Buffer
			if err := atlas.Write(&page, pictures); err != nil {
				return coded{verdict.ExitBenchFault, err}
			}
			if err := os.MkdirAll(out, 0o755); err != nil {
				return err
			}
			file := filepath.Join(out, "atlas.html")
			if err := os.WriteFile(file, page.Bytes(), 0o644); err != nil {
				return err
			}
			values, missed := 0, 0
			for _, p := range pictures {
				for _, c := range p.Checks {
					values++
					if !c.Holds() {
						missed++
					}
				}
			}
			fmt.Fprintf(cmd.OutOrStdout(), "%s: %d pictures, %d values, %d missed by more than their tolerance\n", file, len(pictures), values, missed)
			if missed > 0 {
				return coded{code: verdict.ExitBenchFault}
			}
			return nil
		},
	}
	cmd.Flags().StringVar(&out, "out", filepath.Join("kilter-runs", "atlas"), "folder to write to")
	return cmd
}

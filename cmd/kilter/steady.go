package main

import (
	"github.com/spf13/cobra"

	"kilter/cmd/steady/control"
)

// newSteady runs the reference controller, so that one binary is enough. Its arguments are its own.
func newSteady() *cobra.Command {
	return &cobra.Command{
		Use:                "steady",
		Short:              "Run the reference controller against the bench that " + "KILTER_BENCH names",
		Example:            "  KILTER_BENCH=bench.json kilter steady --period 10s",
		DisableFlagParsing: true,
		RunE: func(cmd *cobra.Command, args []string) error {
			if code := control.Main(args, cmd.ErrOrStderr()); code != 0 {
				return coded{code: code}
			}
			return nil
		},
	}
}

package main

import (
	"github.com/spf13/cobra"

	"kilter/cmd/steady/wrong"
)

// newWrong runs a controller that is wrong on purpose. Its further arguments are the reference controller's.
func newWrong() *cobra.Command {
	return &cobra.Command{
		Use:                "wrong NAME",
		Short:              "Run a controller that is wrong on purpose against the bench that KILTER_BENCH names",
		DisableFlagParsing: true,
		Hidden:             true,
		Args:               cobra.MinimumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			fault, err := wrong.Find(args[0])
			if err != nil {
				return err
			}
			if code := fault.Main(args[1:], cmd.ErrOrStderr()); code != 0 {
				return coded{code: code}
			}
			return nil
		},
	}
}

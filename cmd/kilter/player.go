package main

import (
	"github.com/spf13/cobra"

	"kilter/suites/campaign"
)

// newPlayer plays runs for a sweep, a falsify or a worker that has started it.
func newPlayer() *cobra.Command {
	return &cobra.Command{
		Use:    "player",
		Short:  "Play runs that come on standard input, for the process that has started this one",
		Hidden: true,
		Args:   cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return campaign.PlayFor(cmd.InOrStdin(), cmd.OutOrStdout())
		},
	}
}

package main

import (
	"github.com/spf13/cobra"

	"kilter/scenarios"
)

// offerScenarios has the shell complete the names of built-in scenarios, and files.
func offerScenarios(cmd *cobra.Command) {
	cmd.ValidArgsFunction = func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
		return scenarios.BuiltinNames(), cobra.ShellCompDirectiveDefault
	}
	offer(cmd, "pace", "stepped", "real", "x20", "follow")
	offer(cmd, "policy", "steady", "none", "wrong/")
}

// offer has the shell complete the value of a flag, if the command has it.
func offer(cmd *cobra.Command, flag string, values ...string) {
	if cmd.Flags().Lookup(flag) != nil {
		_ = cmd.RegisterFlagCompletionFunc(flag, cobra.FixedCompletions(values, cobra.ShellCompDirectiveNoFileComp))
	}
}

package main

import (
	"github.com/spf13/cobra"

	"kilter/cmd/steady/wrong"
	"kilter/scenarios"
)

// offerScenarios has the shell complete the names of built-in scenarios, and files.
func offerScenarios(cmd *cobra.Command) {
	cmd.ValidArgsFunction = func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
		return scenarios.BuiltinNames(), cobra.ShellCompDirectiveDefault
	}
	offer(cmd, "pace", "stepped", "real", "x20", "follow")
	offer(cmd, "policy", policies()...)
}

// policies are the controllers that come along.
func policies() []string {
	list := []string{"steady", "none"}
	for _, fault := range wrong.All() {
		list = append(list, "wrong/"+fault.Name)
	}
	return list
}

// offer has the shell complete the value of a flag, if the command has it.
func offer(cmd *cobra.Command, flag string, values ...string) {
	if cmd.Flags().Lookup(flag) != nil {
		_ = cmd.RegisterFlagCompletionFunc(flag, cobra.FixedCompletions(values, cobra.ShellCompDirectiveNoFileComp))
	}
}

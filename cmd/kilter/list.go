package main

import (
	"fmt"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"kilter/cmd/steady/wrong"
	"kilter/scenarios"
)

func newList() *cobra.Command {
	return &cobra.Command{
		Use:     "list",
		Short:   "List the built-in scenarios, sites, ranges and wrong controllers",
		Example: "  kilter list",
		Args:    cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			w := tabwriter.NewWriter(cmd.OutOrStdout(), 0, 0, 2, ' ', 0)
			fmt.Fprintln(w, "SCENARIO\tSITE\tLASTS\tSTORY")
			for _, name := range scenarios.BuiltinNames() {
				sc, err := scenarios.Builtin(name)
				if err != nil {
					return err
				}
				fmt.Fprintf(w, "%s\t%s\t%v\t%s\n", sc.Name, sc.Site.Name, sc.Lasts, sc.Title)
			}
			fmt.Fprintln(w, "\nSITE\t\t\tWHAT")
			for _, name := range scenarios.BuiltinSites() {
				site, err := scenarios.BuiltinSite(name)
				if err != nil {
					return err
				}
				fmt.Fprintf(w, "%s\t\t\t%s\n", site.Name, site.Title)
			}
			if err := w.Flush(); err != nil {
				return err
			}
			fmt.Fprintln(w, "\nRANGES\t\t\tWHAT")
			for _, name := range scenarios.WithinNames() {
				within, err := scenarios.FindWithin(name)
				if err != nil {
					return err
				}
				fmt.Fprintf(w, "%s\t\t\t%s\n", within.Name, within.Title)
			}
			if err := w.Flush(); err != nil {
				return err
			}
			fmt.Fprintln(w, "\nPOLICY\tFAILS\tIN\tSINCE IT")
			for _, f := range wrong.All() {
				fmt.Fprintf(w, "wrong/%s\t%s\t%s\t%s\n", f.Name, f.Criterion, f.Story, f.Does)
			}
			return w.Flush()
		},
	}
}

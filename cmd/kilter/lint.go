package main

import (
	"errors"
	"fmt"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"kilter/emulator/registers"
	"kilter/physics"
	"kilter/scenarios"
)

func newLint() *cobra.Command {
	return &cobra.Command{
		Use:     "lint FILE...",
		Short:   "Check scenario and site files without running them",
		Example: "  kilter lint my-site.yaml my-bad-day.yaml",
		Args:    cobra.MinimumNArgs(1),
		RunE: func(cmd *cobra.Command, files []string) error {
			var errs []error
			for _, file := range files {
				if err := lint(file); err != nil {
					errs = append(errs, err)
					continue
				}
				fmt.Fprintf(cmd.OutOrStdout(), "%s: ok\n", file)
			}
			return errors.Join(errs...)
		},
	}
}

// lint loads a file of any kind, and makes what it describes.
func lint(file string) error {
	text, err := os.ReadFile(file)
	if err != nil {
		return err
	}
	plant, step := physics.Site{}, scenarios.DefaultStep
	switch kindOf(text) {
	case "map":
		_, err := registers.ParseMap(file, text)
		return err
	case "scenario":
		sc, err := scenarios.LoadScenario(file)
		if err != nil {
			return err
		}
		plant, step = sc.Site.Plant, sc.Step
	default:
		site, err := scenarios.LoadSite(file)
		if err != nil {
			return err
		}
		plant = site.Plant
	}
	plant.StepMS = step.Milliseconds()
	if _, err := physics.New(plant); err != nil {
		return fmt.Errorf("%s: %w", file, err)
	}
	return nil
}

// kindOf tells a file's kind by the key at its top level that only this kind has; a file
// that has neither is read as a site.
func kindOf(text []byte) string {
	for line := range strings.Lines(string(text)) {
		for _, kind := range []string{"map", "scenario"} {
			if strings.HasPrefix(line, kind+":") {
				return kind
			}
		}
	}
	return "site"
}

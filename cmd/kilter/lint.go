package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"kilter/emulator"
	"kilter/emulator/registers"
	"kilter/scenarios"
	"kilter/suites"
)

func newLint() *cobra.Command {
	schema := false
	cmd := &cobra.Command{
		Use:     "lint FILE...",
		Short:   "Check scenario, site and register map files without running them",
		Example: "  kilter lint my-site.yaml my-bad-day.yaml my-device.yaml",
		Args: func(cmd *cobra.Command, files []string) error {
			if schema {
				return cobra.NoArgs(cmd, files)
			}
			return takes(1, true, "the files to check")(cmd, files)
		},
		RunE: func(cmd *cobra.Command, files []string) error {
			if schema {
				_, err := cmd.OutOrStdout().Write(scenarios.Schema())
				return err
			}
			told := map[string]bool{}
			var errs []error
			for _, file := range files {
				err := lint(filepath.Clean(file))
				if err == nil {
					fmt.Fprintf(cmd.OutOrStdout(), "%s: ok\n", file)
					continue
				}
				errs = append(errs, news(file, err, told))
			}
			return errors.Join(errs...)
		},
	}
	cmd.Flags().BoolVar(&schema, "schema", false, "print the JSON Schema of scenarios and sites, for editors that complete and check")
	return cmd
}

// news leaves out the lines that have been told already: a scenario repeats what is wrong with its site.
func news(file string, err error, told map[string]bool) error {
	var lines []string
	for line := range strings.Lines(err.Error()) {
		if line = strings.TrimSuffix(line, "\n"); !told[line] {
			told[line] = true
			lines = append(lines, line)
		}
	}
	if lines == nil {
		return fmt.Errorf("%s: found only what is told above, wanted a file that builds on sound ones", file)
	}
	return errors.New(strings.Join(lines, "\n"))
}

// lint loads a file of any kind, and makes what it describes.
func lint(file string) error {
	text, err := readAny(file)
	if err != nil {
		return err
	}
	switch kindOf(text) {
	case "map":
		_, err := registers.ParseMap(file, text)
		return err
	case "scenario":
		sc, err := scenarios.LoadScenario(file)
		if err != nil {
			return err
		}
		return suites.Check(sc)
	}
	site, err := scenarios.LoadSite(file)
	if err != nil {
		return err
	}
	return emulator.Check(&scenarios.Scenario{Site: site, Step: scenarios.DefaultStep, Source: file})
}

// readAny reads a file whose kind is not known yet.
func readAny(file string) ([]byte, error) {
	const wanted = "wanted a scenario, a site or a register map"
	info, err := os.Stat(file)
	switch {
	case errors.Is(err, os.ErrNotExist):
		hint := ""
		if slices.Contains(append(scenarios.BuiltinNames(), scenarios.BuiltinSites()...), file) {
			hint = " (" + file + " is built in, and lint takes files)"
		}
		return nil, fmt.Errorf("%s: found no such file, %s%s", file, wanted, hint)
	case err == nil && info.IsDir():
		return nil, fmt.Errorf("%s: found a folder, %s (%s)", file, wanted, filepath.Join(file, "*.yaml"))
	}
	text, err := os.ReadFile(file)
	if err != nil {
		return nil, fmt.Errorf("%s: found a file that cannot be read, %s (%w)", file, wanted, errors.Unwrap(err))
	}
	return text, nil
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

package main

import (
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"
)

// starters are what `kilter new` writes, a folder each.
//
//go:embed starters
var starters embed.FS

// languages are those that a controller can begin in, by their folders.
var languages = []string{"go", "javascript", "python", "shell"}

func newNew() *cobra.Command {
	cmd := &cobra.Command{
		Use:   "new",
		Short: "Write a controller or a site to begin with",
		Example: `  kilter new controller --lang python my-controller
  kilter new site my-site`,
		Args: cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			return errors.New("new what? kilter new controller --lang python DIR, or kilter new site DIR")
		},
	}
	var language string
	controller := &cobra.Command{
		Use:     "controller --lang LANGUAGE DIR",
		Short:   "Write a controller that passes calm-start and left-alone, ready to edit",
		Example: "  kilter new controller --lang python my-controller",
		Args:    takes(1, false, "the folder to write"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if !slices.Contains(languages, language) {
				return fmt.Errorf("--lang %q: must be one of %s; in another language, begin from the one that is nearest", language, strings.Join(languages, ", "))
			}
			return begin(cmd, language, args[0])
		},
	}
	controller.Flags().StringVar(&language, "lang", "python", "its language: "+strings.Join(languages, ", "))
	offer(controller, "lang", languages...)
	site := &cobra.Command{
		Use:     "site DIR",
		Short:   "Write a site, a device's registers and a calm story, ready to edit",
		Example: "  kilter new site my-site && kilter check my-site/story.yaml",
		Args:    takes(1, false, "the folder to write"),
		RunE:    func(cmd *cobra.Command, args []string) error { return begin(cmd, "site", args[0]) },
	}
	cmd.AddCommand(controller, site)
	return cmd
}

// begin writes a starter's files into a folder that is new or empty.
func begin(cmd *cobra.Command, starter, folder string) error {
	list, err := os.ReadDir(folder)
	if err == nil && len(list) > 0 {
		return fmt.Errorf("%s is not empty; give a new folder, so that nothing of yours is overwritten", folder)
	}
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return err
	}
	files, err := starters.ReadDir(path.Join("starters", starter))
	if err != nil {
		return err
	}
	for _, f := range files {
		text, err := starters.ReadFile(path.Join("starters", starter, f.Name()))
		if err != nil {
			return err
		}
		// A go.mod of its own would hide the folder from this module.
		name := filepath.Join(folder, strings.TrimSuffix(f.Name(), ".txt"))
		if err := os.WriteFile(name, text, 0o644); err != nil {
			return err
		}
		fmt.Fprintln(cmd.OutOrStdout(), name)
	}
	fmt.Fprintf(cmd.OutOrStdout(), "begin with %s\n", filepath.Join(folder, "README.md"))
	return nil
}

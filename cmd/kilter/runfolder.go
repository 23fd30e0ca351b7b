package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"

	"kilter/suites/verdict"
)

// runFolder is the folder that was asked for, or the next free number under kilter-runs.
func runFolder(asked string) (string, error) {
	if asked != "" {
		if err := clearRun(asked); err != nil {
			return "", fmt.Errorf("--out %s: %w", asked, err)
		}
		return asked, makeFolder(os.MkdirAll, asked)
	}
	if err := makeFolder(os.MkdirAll, "kilter-runs"); err != nil {
		return "", err
	}
	for n := 1; ; n++ {
		folder := filepath.Join("kilter-runs", fmt.Sprintf("%04d", n))
		// Making it claims it: another check may be looking for a free number too.
		if err := makeFolder(os.Mkdir, folder); !errors.Is(err, os.ErrExist) {
			return folder, err
		}
	}
}

func makeFolder(make func(string, os.FileMode) error, folder string) error {
	if err := make(folder, 0o755); err != nil {
		return fmt.Errorf("run folder: %w", err)
	}
	return nil
}

// runFiles are what a check writes, and all that it removes.
var runFiles = []string{"verdict.json", "junit.xml", "report.html", "index.html", "compare.html", "comparison.json", "trace.parquet", "scenario.yaml", "commands.csv", "writes.csv", "wire.csv", "controller.log", "traffic.pcap"}

// clearRun empties a folder of an earlier run, whose files would pass for the new one's. It
// touches nothing where there is anything else.
func clearRun(folder string) error {
	var files, folders []string
	ours := false
	err := filepath.WalkDir(folder, func(path string, d os.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir():
			folders = append(folders, path)
			return nil
		case !slices.Contains(runFiles, d.Name()):
			return errors.New("the folder holds other things than a run; give an empty or a new one")
		}
		files = append(files, path)
		ours = ours || d.Name() == "verdict.json" && isVerdict(path)
		return nil
	})
	switch {
	case errors.Is(err, os.ErrNotExist):
		return nil
	case err != nil:
		return err
	case len(files) > 0 && !ours:
		return errors.New("the folder holds other things than a run; give an empty or a new one")
	}
	slices.Reverse(folders) // inner ones first; the folder itself stays
	for _, path := range append(files, folders[:len(folders)-1]...) {
		if err := os.Remove(path); err != nil {
			return err
		}
	}
	return nil
}

// isVerdict says whether a file is a verdict of this tool.
func isVerdict(path string) bool {
	text, err := os.ReadFile(path)
	if err != nil {
		return false
	}
	var head struct {
		Tool string `json:"tool"`
	}
	return json.Unmarshal(text, &head) == nil && head.Tool == verdict.Tool
}

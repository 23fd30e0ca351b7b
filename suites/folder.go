package suites

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"

	"kilter/suites/report"
	"kilter/suites/verdict"
)

// WriteFolder keeps an outcome's evidence in a folder: verdict.json, report.html, trace.parquet,
// commands.csv, writes.csv, wire.csv and scenario.yaml. Each file is written whole or not at all.
func WriteFolder(folder string, out *Outcome) error {
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return fmt.Errorf("run folder: %w", err)
	}
	resolved, err := out.Scenario.Resolve()
	if err != nil {
		return err
	}
	var page, commands, writes, seen bytes.Buffer
	if err := report.Page(&page, out.Run, series(out), wiring(out.Scenario)); err != nil {
		return err
	}
	if err := writeCommands(&commands, out); err != nil {
		return err
	}
	if err := writeWrites(&writes, out); err != nil {
		return err
	}
	if err := writeSeen(&seen, out); err != nil {
		return err
	}
	for _, f := range []struct {
		name string
		text []byte
	}{
		{"trace.parquet", out.Parquet},
		{"commands.csv", commands.Bytes()},
		{"writes.csv", writes.Bytes()},
		{"wire.csv", seen.Bytes()},
		{"scenario.yaml", resolved},
		{"report.html", page.Bytes()},
	} {
		if err := WriteWhole(filepath.Join(folder, f.name), f.text); err != nil {
			return err
		}
	}
	return WriteVerdict(filepath.Join(folder, "verdict.json"), verdict.New(out.Run))
}

// WriteVerdict writes a verdict's file.
func WriteVerdict(path string, v verdict.Verdict) error {
	var text bytes.Buffer
	if err := v.Write(&text); err != nil {
		return err
	}
	return WriteWhole(path, text.Bytes())
}

// WriteWhole writes a file so that it is there whole or not at all.
func WriteWhole(path string, text []byte) error {
	half, err := os.CreateTemp(filepath.Dir(path), ".half-*")
	if err != nil {
		return fmt.Errorf("run folder: %w", err)
	}
	defer os.Remove(half.Name()) // gone already if all went well
	_, err = half.Write(text)
	if err == nil {
		err = half.Chmod(0o644)
	}
	if closing := half.Close(); err == nil {
		err = closing
	}
	if err == nil {
		err = os.Rename(half.Name(), path)
	}
	if err != nil {
		return fmt.Errorf("run folder: %w", err)
	}
	return nil
}

package suites

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"strconv"

	"kilter/emulator"
	"kilter/suites/report"
	"kilter/suites/verdict"
)

// WriteFolder keeps an outcome's evidence in a folder: verdict.json, report.html, trace.parquet,
// commands.csv, writes.csv and scenario.yaml. Each file is written whole or not at all.
func WriteFolder(folder string, out *Outcome) error {
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return fmt.Errorf("run folder: %w", err)
	}
	resolved, err := out.Scenario.Resolve()
	if err != nil {
		return err
	}
	var page, commands, writes bytes.Buffer
	if err := report.Page(&page, out.Run, series(out), wiring(out.Scenario)); err != nil {
		return err
	}
	if err := writeCommands(&commands, out); err != nil {
		return err
	}
	if err := writeWrites(&writes, out); err != nil {
		return err
	}
	for _, f := range []struct {
		name string
		text []byte
	}{
		{"trace.parquet", out.Parquet},
		{"commands.csv", commands.Bytes()},
		{"writes.csv", writes.Bytes()},
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

// writeCommands writes the command stream, whole: each command with the tick at whose
// beginning it took effect.
func writeCommands(w *bytes.Buffer, out *Outcome) error {
	c := csv.NewWriter(w)
	c.Write([]string{"tick", "time_s", "device", "signal", "value", "register", "raw", "lapsed"})
	step := out.Scenario.Step.Seconds()
	for _, x := range out.Commands {
		c.Write([]string{
			strconv.FormatInt(x.Tick, 10), strconv.FormatFloat(float64(x.Tick)*step, 'f', 3, 64),
			x.Device, x.Signal.String(),
			strconv.FormatFloat(x.Value, 'g', -1, 64), registerOf(x), strconv.FormatUint(x.Raw, 10),
			strconv.FormatBool(x.Lapsed),
		})
	}
	c.Flush()
	return c.Error()
}

// registerOf is the register that a command was written to; none for one that lapsed.
func registerOf(c emulator.Command) string {
	if c.Lapsed {
		return ""
	}
	return strconv.Itoa(int(c.Register))
}

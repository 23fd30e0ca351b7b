package main

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"kilter/emulator/trace"
	"kilter/suites"
	"kilter/suites/picture"
	"kilter/suites/verdict"
)

func newPlot() *cobra.Command {
	var what []string
	var from, to time.Duration
	var out string
	cmd := &cobra.Command{
		Use:   "plot RUN",
		Short: "Draw columns of a run's trace as a PNG or an SVG",
		Example: `  kilter plot kilter-runs/0001 --what grid,north,south --from 10m --to 14m -o moment.png
  kilter plot kilter-runs/0001 --what grid,north_soc,south_soc -o day.svg`,
		Args: takes(1, false, "the folder of one run"),
		RunE: func(cmd *cobra.Command, args []string) error {
			format := strings.TrimPrefix(strings.ToLower(filepath.Ext(out)), ".")
			if format != "png" && format != "svg" {
				return fmt.Errorf("-o %s: must end in .png or .svg", out)
			}
			p, err := pictureOf(args[0], what)
			if err != nil {
				return err
			}
			end := p.TimesS[len(p.TimesS)-1]
			p.FromS, p.ToS = from.Seconds(), end
			if cmd.Flags().Changed("to") {
				p.ToS = min(to.Seconds(), end)
			}
			if p.FromS < 0 || p.FromS >= p.ToS {
				return fmt.Errorf("from %s to %s: must be a span within the run, which lasts %s; see --from and --to",
					verdict.Moment(p.FromS), verdict.Moment(p.ToS), verdict.Moment(end))
			}
			var file bytes.Buffer
			if err := p.Write(&file, format); err != nil {
				return err
			}
			return suites.WriteWhole(out, file.Bytes())
		},
	}
	f := cmd.Flags()
	f.StringSliceVar(&what, "what", []string{"grid"}, "the `COLUMNS`: grid, net_load, a device for its power, or any column's whole name")
	f.DurationVar(&from, "from", 0, "simulated time to begin at")
	f.DurationVar(&to, "to", 0, "simulated time to end at; the run's end by default")
	f.StringVarP(&out, "output", "o", "plot.png", "the `FILE`, with the ending .png or .svg")
	return cmd
}

// pictureOf reads the trace of a run's folder.
func pictureOf(folder string, what []string) (*picture.Picture, error) {
	path := filepath.Join(folder, "trace.parquet")
	file, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("%s: found no trace.parquet that can be read, want the folder of one run", folder)
	}
	defer file.Close()
	info, err := file.Stat()
	if err != nil {
		return nil, err
	}
	t, err := trace.Read(file, info.Size())
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	p := &picture.Picture{TimesS: t.TimesS, Width: 720, Panel: 220}
	for _, w := range what {
		name, unit, err := columnOf(t, w)
		if err != nil {
			return nil, err
		}
		values, low, high := t.Column(name)
		p.Lines = append(p.Lines, picture.Line{Name: name, Unit: unit, Values: values, Low: low, High: high})
	}
	if len(p.Lines) == 0 {
		return nil, errors.New("--what: found nothing, want at least one column")
	}
	p.Title, p.Limits = limitsOf(folder, p.Lines)
	return p, nil
}

// units are told by the end of a column's name.
var units = []struct{ end, unit string }{{"_w", "W"}, {"_v", "V"}, {"_soc", "%"}, {"_mode", ""}, {"_state", ""}}

// columnOf finds a column by its name, or by its name without the unit.
func columnOf(t *trace.File, what string) (name, unit string, err error) {
	names := t.Names()
	for _, u := range units {
		for _, candidate := range []string{what, what + u.end} {
			if strings.HasSuffix(candidate, u.end) && slices.Contains(names, candidate) {
				return candidate, u.unit, nil
			}
		}
	}
	return "", "", fmt.Errorf("--what %s: found no such column, want some of %s", what, strings.Join(names, ", "))
}

// limitsOf reads what the run's verdict says about the lines, where there is one.
func limitsOf(folder string, lines []picture.Line) (title string, limits []picture.Limit) {
	file, err := os.Open(filepath.Join(folder, "verdict.json"))
	if err != nil {
		return filepath.Base(folder), nil
	}
	defer file.Close()
	v, err := verdict.Read(file)
	if err != nil || len(v.Runs) != 1 {
		return filepath.Base(folder), nil
	}
	run := v.Runs[0]
	for _, c := range run.Criteria {
		at, known := c.TraceLimit.Value()
		if !known || len(c.Columns) == 0 {
			continue
		}
		for _, l := range lines {
			if l.Name == c.Columns[0] {
				limits = append(limits, picture.Limit{Line: l.Name, At: at, Label: c.Title() + " limit"})
			}
		}
	}
	return fmt.Sprintf("%s, seed %d, controller %s", run.Scenario, run.Seed, run.Controller), limits
}

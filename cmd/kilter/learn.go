package main

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"

	"github.com/spf13/cobra"

	"kilter/scenarios"
	"kilter/suites"
	"kilter/suites/fieldlog"
	"kilter/suites/learn"
	"kilter/suites/report"
)

func newLearn() *cobra.Command {
	var out, columns, site string
	cmd := &cobra.Command{
		Use:   "learn LOG",
		Short: "Make a site and a scenario of a field log, which reproduce what it shows",
		Long: `learn reads what somebody logged at a site (CSV or Parquet, any columns), estimates the inverters behind
it, and writes a site, a scenario and the trace of the rest of the site, which reproduce the oscillation, with learned.html,
which says how well.

It never guesses silently what a column is. Without --columns it proposes a column map, writes it to columns.yaml in the
folder, and stops (exit code 2): look at it, write confirmed: yes, and give it back. A map reads so:

  confirmed: yes
  time: {column: Time, form: day first, zone: Europe/Oslo}
  grid:
    - {column: Grid, unit: kW, positive: import}       # or export; several columns are summed
  solar:
    - {column: PV yield, unit: kWh, positive: giving}  # Wh and kWh are counters
  inverters:
    - name: north
      power:
        - {column: Battery 1, unit: W, positive: charging, late: 7 s}  # its clock is 7 s behind
      soc:
        - {column: SOC 1, unit: "%"}
      command:
        - {column: Setpoint 1, unit: W, positive: charging}`,
		Example: `  kilter learn hunting.csv --out hunting
  kilter learn hunting.csv --columns hunting/columns.yaml --out hunting
  kilter check hunting/scenario.yaml --policy none`,
		Args: takes(1, false, "one log"),
		RunE: func(cmd *cobra.Command, args []string) error {
			l := learner{log: args[0], out: out, tell: cmd.ErrOrStderr()}
			if site != "" {
				var err error
				if l.known, err = knownSite(site); err != nil {
					return err
				}
			}
			if columns == "" {
				return l.propose()
			}
			return l.learn(columns, cmd.OutOrStdout())
		},
	}
	cmd.Flags().StringVar(&out, "out", filepath.Join("kilter-runs", "learned"), "folder to write to")
	cmd.Flags().StringVar(&columns, "columns", "", "the confirmed column map `FILE`")
	cmd.Flags().StringVar(&site, "site", "", "a built-in site or a `SITE` file that says what is known of inverters of the same names: ratings and capacities")
	return cmd
}

func knownSite(name string) (*scenarios.Site, error) {
	if slices.Contains(scenarios.BuiltinSites(), name) {
		return scenarios.BuiltinSite(name)
	}
	return scenarios.LoadSite(name)
}

// learner is one log on its way to a scenario.
type learner struct {
	log, out string
	known    *scenarios.Site
	tell     io.Writer
}

const columnsFile = "columns.yaml"

// propose writes a column map for people to confirm.
func (l *learner) propose() error {
	table, err := fieldlog.ReadFile(l.log)
	if err != nil {
		return err
	}
	p, err := fieldlog.Propose(table)
	if err != nil {
		return err
	}
	file := filepath.Join(l.out, columnsFile)
	if _, err := os.Stat(file); err == nil {
		return fmt.Errorf("%s: found a column map already, wanted none to overwrite (give it with --columns, or take it away)", file)
	}
	if err := os.MkdirAll(l.out, 0o755); err != nil {
		return err
	}
	text := p.Text(filepath.Base(l.log))
	if err := suites.WriteWhole(file, []byte(text)); err != nil {
		return err
	}
	fmt.Fprint(l.tell, text)
	return coded{exitUsage, fmt.Errorf("%s: found no confirmed column map; one is proposed above and in %s: look at each line, write confirmed: yes, and go on with\n  kilter learn %s --columns %s --out %s",
		l.log, file, quote(l.log), quote(file), quote(l.out))}
}

func (l *learner) learn(columns string, out io.Writer) error {
	m, err := fieldlog.ReadMap(columns)
	if err != nil {
		return err
	}
	if !m.Confirmed {
		return fmt.Errorf("%s: confirmed: found no, wanted yes (once you have looked at each line)", columns)
	}
	l.progress("reading the log", 0)
	table, err := fieldlog.ReadFile(l.log)
	if err != nil {
		return err
	}
	log, err := fieldlog.Apply(table, m)
	if err != nil {
		return err
	}
	r, err := learn.Learn(log, learn.Options{Known: l.known, Progress: l.progress})
	if err != nil {
		return err
	}
	if err := os.MkdirAll(l.out, 0o755); err != nil {
		return err
	}
	files := r.Files()
	for name, text := range files {
		if err := suites.WriteWhole(filepath.Join(l.out, name), text); err != nil {
			return err
		}
	}
	replay, err := r.Replay(filepath.Join(l.out, learn.ScenarioFile))
	if err != nil {
		return err
	}
	var page bytes.Buffer
	if err := r.Page(&page, replay, report.Cautions); err != nil {
		return err
	}
	if err := suites.WriteWhole(filepath.Join(l.out, "learned.html"), page.Bytes()); err != nil {
		return err
	}
	l.progress("done", 1)
	for _, f := range r.Findings {
		fmt.Fprintf(out, "%s: %s\n", f.Level, f)
	}
	fmt.Fprintf(out, "%s\n%s\n", r.CauseText, replay.Verdict())
	fmt.Fprintf(out, "%s: a site, a scenario, %d trace(s) and learned.html; next: kilter check %s --policy none\n", l.out, len(files)-2, quote(filepath.Join(l.out, learn.ScenarioFile)))
	return nil
}

func (l *learner) progress(what string, share float64) {
	fmt.Fprintf(l.tell, "%3.0f %% %s\n", share*100, what)
}

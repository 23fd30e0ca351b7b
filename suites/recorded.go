package suites

import (
	"fmt"
	"os"
	"strings"
	"time"

	"kilter/emulator/trace"
	"kilter/suites/report"
	"kilter/suites/verdict"
)

// ReadSeries reads what a recorded trace shows, for drawing: the columns alone, without what happened.
func ReadSeries(path string, run verdict.Run) (report.Series, error) {
	f, err := os.Open(path)
	if err != nil {
		return report.Series{}, err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return report.Series{}, err
	}
	t, err := trace.Read(f, info.Size())
	if err != nil {
		return report.Series{}, fmt.Errorf("%s: %w", path, err)
	}
	s := report.Series{StepS: 1, StartLocal: startOf(run)}
	if len(t.TimesS) > 1 {
		s.StepS = t.TimesS[1] - t.TimesS[0]
	}
	for _, name := range t.Names() {
		c := report.Column{Name: name}
		c.Values, c.Min, c.Max = t.Column(name)
		if c.Label, c.Unit, c.Kind = toldBy(name); c.Kind != "" {
			s.Columns = append(s.Columns, c)
		}
	}
	return s, nil
}

// toldBy is what the name of a trace's column tells; the kind is empty for what is not drawn.
func toldBy(name string) (label, unit string, kind report.Kind) {
	what := func(end string) string { return strings.ReplaceAll(strings.TrimSuffix(name, end), "_", " ") }
	switch {
	case name == "grid_w":
		return "grid flow", "W", report.Grid
	case name == "net_load_w":
		return "net load", "W", report.NetLoad
	case name == "circulating_w":
		return "circulating power", "W", report.Circulating
	case strings.HasSuffix(name, "_soc"):
		return what("_soc"), "", report.SOC
	case strings.HasSuffix(name, "_wanted_w"):
		return what("_wanted_w") + " aims at", "W", report.Other
	case strings.HasSuffix(name, "_w"):
		return what("_w"), "W", report.Other
	case strings.HasSuffix(name, "_v"):
		return what("_v"), "V", report.Voltage
	}
	return "", "", ""
}

// startOf is a run's local start; the zero time where it does not say.
func startOf(run verdict.Run) time.Time {
	day, zone, is := cutLast(run.StartedLocal, " ")
	place, err := time.LoadLocation(zone)
	if !is || err != nil {
		return time.Time{}
	}
	at, err := time.ParseInLocation("2006-01-02 15:04", day, place)
	if err != nil {
		return time.Time{}
	}
	return at
}

func cutLast(s, sep string) (before, after string, found bool) {
	i := strings.LastIndex(s, sep)
	if i < 0 {
		return s, "", false
	}
	return s[:i], s[i+len(sep):], true
}

package falsify

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"strings"

	"kilter/suites/report"
	"kilter/suites/verdict"
)

//go:embed page.html
var pageHTML string

//go:embed page.css
var pageCSS string // what the report's style sheet has not

var page = template.Must(template.New("falsify").Funcs(template.FuncMap{"value": value, "counted": verdict.Counted}).Parse(pageHTML))

// rangeRow is one parameter's coverage.
type rangeRow struct {
	Name, Low, High, About string
	Strip                  template.HTML
	Met, All               int
}

// shownCase is a counterexample, and the command that shows it failing.
type shownCase struct {
	FileCase
	See string
}

// Page writes what a hunt came to as one self-contained HTML file. See is the command that shows each case failing.
func (f *File) Page(h *Hunt, see func(i int) string) func(io.Writer) error {
	return func(w io.Writer) error {
		content := struct {
			CSS                 template.CSS
			File                *File
			Who, Word, Story    string
			Facts               [][2]string
			Cases               []shownCase
			Wide, Narrow, Pairs template.HTML
			Ranges              []rangeRow
			Cautions            []string
		}{
			CSS: template.CSS(report.Style() + pageCSS), File: f, Who: contestantOf(f), Word: f.word(), Story: h.Problem.Within.Story, Facts: f.facts(h),
			Wide: h.margins(900), Narrow: h.margins(400), Pairs: pairs(f.Coverage), Cautions: report.Cautions,
		}
		for i, c := range f.Cases {
			content.Cases = append(content.Cases, shownCase{c, see(i)})
		}
		for k, p := range f.Coverage.Parameters {
			content.Ranges = append(content.Ranges, rangeRow{p.Name, p.Low, p.High, h.Problem.Within.Parameters[k].About, strip(p), p.Met, len(p.Counts)})
		}
		var out bytes.Buffer
		if err := page.Execute(&out, content); err != nil {
			return fmt.Errorf("falsify.html: %w", err)
		}
		_, err := w.Write(out.Bytes())
		return err
	}
}

// value is a parameter's value as people read it: with a sign of its own, and on one line.
func value(text string) string { return strings.ReplaceAll(report.Minus(text), " ", "\u00a0") }

// word is what the hunt came to.
func (f *File) word() string {
	switch {
	case len(f.Cases) > 0:
		return "fails"
	case f.Interrupted:
		return "interrupted"
	}
	return "none found"
}

func (f *File) facts(h *Hunt) [][2]string {
	facts := [][2]string{{"Controller", contestantOf(f)}, {"Scenario", f.Scenario}, {"Ranges", f.Within + ": " + h.Problem.Within.Title}}
	if f.Criterion != "" {
		facts = append(facts, [2]string{"What counts", f.Criterion + " alone"})
	}
	return append(facts, [2]string{"Search", fmt.Sprintf("%s, seed %d, %s", f.Method, f.Seed, verdict.Counted(f.Restarts, "restart"))},
		[2]string{"Runs", fmt.Sprintf("%d of at most %d", f.Runs, f.Budget)})
}

func contestantOf(f *File) string {
	if f.Controller.Command != "" {
		return f.Controller.Command
	}
	return f.Controller.Policy
}

// Observed tells the figure that failed, beside its limit.
func (c FileCase) Observed() string {
	if c.Finding.Unit == "" {
		return ""
	}
	return report.Minus(verdict.QuantityBeside(c.Finding.Observed, c.Finding.Limit, c.Finding.Unit)) + ", limit " +
		report.Minus(verdict.Quantity(c.Finding.Limit, c.Finding.Unit))
}

package report

import (
	"cmp"
	"fmt"
	"io"
	"strings"
	"unicode"
	"unicode/utf8"

	"kilter/suites/verdict"
)

// Table writes the verdict for a terminal: one block for each run, one line
// for each criterion, and under each failure its five parts and the command
// that reproduces it. Escape sequences are used only where colour says so.
func Table(w io.Writer, v verdict.Verdict, colour bool) error {
	t := table{colour: colour}
	for i, run := range v.Runs {
		if i > 0 {
			t.WriteString("\n")
		}
		t.run(run)
	}
	if n := len(v.Runs); n > 1 {
		passed := 0
		for _, run := range v.Runs {
			if run.Passed && run.Count(verdict.Passed) > 0 {
				passed++
			}
		}
		fmt.Fprintf(&t, "\n%d of %d passed\n", passed, n)
	}
	if len(v.Runs) == 0 {
		t.WriteString("Nothing was judged.\n")
	}
	_, err := io.WriteString(w, t.String())
	return err
}

type table struct {
	strings.Builder
	colour bool
}

var tableHead = []string{"criterion", "verdict", "observed", "limit", "margin", "worst at"}

func (t *table) run(run verdict.Run) {
	word, class := headline(run)
	fmt.Fprintf(t, "%s  %s", t.painted(class, strings.ToUpper(word)), printable(run.Scenario))
	fmt.Fprintf(t, "  (site %s, seed %d, controller %s)\n", printable(run.Site), run.Seed, printable(run.Controller))
	if run.Error != nil {
		fmt.Fprintf(t, "  %s\n", printable(sentence(run, noStart)))
	}
	if len(run.Criteria) > 0 {
		t.criteria(run.Criteria)
	}
	if run.Error == nil { // else the run's end is the reason
		for _, c := range run.Criteria {
			if (c.Status == verdict.Undetermined || c.Status == verdict.NotExercised) && c.Detail != "" {
				fmt.Fprintf(t, "  %s\n", printable(c.Title()+" "+c.Status.Words()+": "+c.Detail))
			}
		}
	}
	if run.Wire != nil {
		for _, note := range run.Wire.Notes {
			fmt.Fprintf(t, "  %s\n", printable(note))
		}
	}
	if run.Pacing != nil {
		fmt.Fprintf(t, "  %s\n", printable(cmp.Or(run.Pacing.Note, punctual(run.Pacing))))
	}
	for _, c := range run.Failures() {
		t.WriteString("\n")
		for _, line := range strings.Split(c.Explain(), "\n") {
			fmt.Fprintf(t, "  %s\n", printable(line))
		}
		if run.Reproduce != "" {
			fmt.Fprintf(t, "  reproduce  %s\n", printable(run.Reproduce))
		}
	}
}

func (t *table) criteria(all []verdict.Criterion) {
	rows := [][]string{tableHead}
	for _, c := range all {
		r := newRow(c, noStart)
		rows = append(rows, []string{printable(r.Name), r.Status, printable(r.Observed), printable(r.Limit),
			printable(r.Margin), r.When})
	}
	widths := make([]int, len(tableHead))
	for _, row := range rows {
		for i, cell := range row {
			widths[i] = max(widths[i], utf8.RuneCountInString(cell))
		}
	}
	for n, row := range rows {
		var line strings.Builder
		for i, cell := range row {
			pad := strings.Repeat(" ", widths[i]-utf8.RuneCountInString(cell))
			if n > 0 && i == 1 {
				cell = t.painted(string(all[n-1].Status), cell)
			}
			if i < 2 || i == 3 { // Words stand left, figures right.
				cell += pad
			} else {
				cell = pad + cell
			}
			line.WriteString("  " + cell)
		}
		t.WriteString(strings.TrimRight(line.String(), " ") + "\n")
	}
}

// paints are the terminal's own colours, which follow the reader's theme.
var paints = map[string]string{
	string(verdict.Passed):       "32",
	string(verdict.Failed):       "1;31",
	string(verdict.Undetermined): "33",
	string(verdict.NotExercised): "33",
}

func (t *table) painted(class, text string) string {
	if !t.colour || paints[class] == "" {
		return text
	}
	return "\x1b[" + paints[class] + "m" + text + "\x1b[0m"
}

// printable replaces what would move the cursor or turn the writing around:
// names come from files, and a file must not steer a terminal.
func printable(s string) string {
	return strings.Map(func(r rune) rune {
		if r == utf8.RuneError || unicode.IsControl(r) || unicode.Is(unicode.Cf, r) {
			return '?'
		}
		return r
	}, s)
}

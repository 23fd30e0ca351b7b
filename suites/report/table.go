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
	return TableBeside(w, v, colour, nil)
}

// TableBeside writes the table with a line of the grid flow for each run of which beside gives one.
func TableBeside(w io.Writer, v verdict.Verdict, colour bool, beside func(verdict.Run) string) error {
	t := table{colour: colour, beside: beside}
	told, passed := map[string]bool{}, 0
	for i, run := range v.Runs {
		if told[run.Scenario] {
			continue // it stands in the block of its scenario's first seed
		}
		if i > 0 {
			t.WriteString("\n")
		}
		told[run.Scenario] = true
		if s, several := v.OverSeeds(run.Scenario); several {
			if t.seeds(s, v.Of(run.Scenario)); s.Passed && settled(s) > 0 {
				passed++
			}
			continue
		}
		if t.run(run); run.Passed && run.Count(verdict.Passed) > 0 {
			passed++
		}
	}
	if len(v.Runs) > 1 {
		fmt.Fprintf(&t, "\n%d of %d passed%s\n", passed, len(told), map[bool]string{true: " on every seed"}[len(v.Seeds) > 0])
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
	beside func(verdict.Run) string
}

var tableHead = []string{"criterion", "verdict", "observed", "limit", "margin", "worst at"}

func (t *table) run(run verdict.Run) {
	word, class := headline(run)
	fmt.Fprintf(t, "%s  %s", t.painted(class, strings.ToUpper(word)), printable(run.Scenario))
	fmt.Fprintf(t, "  (site %s, seed %d, controller %s)\n", printable(run.Site), run.Seed, printable(run.Controller))
	if t.beside != nil {
		if line := t.beside(run); line != "" {
			fmt.Fprintf(t, "  grid flow  %s\n", line)
		}
	}
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
		t.explain(run, c)
	}
}

// explain writes the five parts of a finding, and the command that reproduces it.
func (t *table) explain(run verdict.Run, c verdict.Criterion) {
	for line := range strings.Lines(c.Explain() + "\n" + c.Because()) {
		fmt.Fprintf(t, "  %s\n", printable(strings.TrimSuffix(line, "\n")))
	}
	if run.Reproduce != "" {
		fmt.Fprintf(t, "  reproduce  %s\n", printable(run.Reproduce))
	}
}

func (t *table) criteria(all []verdict.Criterion) {
	rows := [][]string{tableHead}
	statuses := []verdict.Status{""}
	for _, c := range all {
		r := newRow(c, noStart)
		rows = append(rows, []string{printable(r.Name), r.Status, printable(r.Observed), printable(r.Limit),
			printable(r.Margin), r.When})
		statuses = append(statuses, c.Status)
	}
	t.grid(rows, 3, statuses)
}

// grid lays out rows, the first of which is the head, with the status in the second column painted. All but the first
// two columns and the limit's are figures.
func (t *table) grid(rows [][]string, limit int, statuses []verdict.Status) {
	widths := make([]int, len(rows[0]))
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
				cell = t.painted(string(statuses[n]), cell)
			}
			if i < 2 || i == limit { // Words stand left, figures right.
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

package sweep

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"text/tabwriter"

	"kilter/suites/report"
	"kilter/suites/verdict"
)

// mostTold is how much of a front a terminal shows.
const mostTold = 12

// Table writes the summary for a terminal.
func (s *Summary) Table(w io.Writer) error {
	fmt.Fprintf(w, "%s with %s on %s, %s each: %s, %d of them pass all criteria\n\n", s.Controller, strings.Join(s.knobNames(), ", "),
		strings.Join(s.Stories, ", "), verdict.Counted(s.Seeds, "seed"), verdict.Counted(s.Points, "setting"), s.Passing)
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, strings.Join(s.head(), "\t"))
	rows := s.folded()
	for _, r := range rows[:min(len(rows), mostTold)] {
		fmt.Fprintln(t, strings.Join(s.cells(r.word(), r.Score), "\t"))
	}
	fmt.Fprintln(t, strings.Join(s.cells(s.word(), &s.Recommended.Score), "\t"))
	if s.AsItStands != nil {
		fmt.Fprintln(t, strings.Join(s.cells("as it stands", &s.AsItStands.Score), "\t"))
	}
	if err := t.Flush(); err != nil {
		return err
	}
	if n := len(rows) - mostTold; n > 0 {
		fmt.Fprintf(w, "%d more that nothing beats are in sweep.json\n", n)
	}
	_, sentence := s.judgement()
	fmt.Fprintf(w, "\n%s\n", sentence)
	for _, note := range s.notes() {
		fmt.Fprintln(w, note)
	}
	_, err := fmt.Fprintf(w, "\nrun it: %s\n", s.Recommended.Command)
	return err
}

// fold is a setting of the front, and how many more came to the very same goals.
type fold struct {
	*Score
	alike int
}

func (f fold) word() string {
	if f.alike == 0 {
		return ""
	}
	return fmt.Sprintf("with %d alike", f.alike)
}

// folded is the front without the recommended setting, those that came to the same goals in one: many thresholds change nothing.
func (s *Summary) folded() []fold {
	var rows []fold
	var last []float64
	for i := range s.Front {
		x := &s.Front[i]
		costs, _ := costsOf(x, s.Goals)
		switch {
		case x.Point == s.Recommended.Point:
		case len(rows) > 0 && slices.Equal(costs, last):
			rows[len(rows)-1].alike++
			if bySafety(x, rows[len(rows)-1].Score) < 0 {
				rows[len(rows)-1].Score = x
			}
		default:
			rows, last = append(rows, fold{Score: x}), costs
		}
	}
	return rows
}

// Title is a goal's name with its unit, and which way is better.
func (g *Goal) Title() string {
	title := g.Name
	if g.Unit != "" {
		title += " [" + g.Unit + "]"
	}
	if g.More {
		return title + ", more is better"
	}
	return title
}

func (s *Summary) knobNames() []string {
	var names []string
	for _, k := range s.Knobs {
		names = append(names, k.Name)
	}
	return names
}

// head names the columns of the table.
func (s *Summary) head() []string {
	head := append([]string{""}, s.knobNames()...)
	for _, g := range s.Goals {
		head = append(head, g.Title())
	}
	return append(head, "worst share", "of", "mean share", "failed runs")
}

// cells are a line of the table.
func (s *Summary) cells(word string, x *Score) []string {
	cells := []string{word}
	for k := range s.Knobs {
		if x.Point == Unvaried {
			cells = append(cells, "-")
		} else {
			cells = append(cells, x.Settings[k])
		}
	}
	for _, v := range x.Goals {
		cells = append(cells, short(v))
	}
	failed := fmt.Sprintf("%d of %d", x.Failed, x.Runs)
	if x.Faults > 0 {
		failed += ", and " + verdict.Counted(x.Faults, "bench fault")
	}
	return append(cells, Share(x.Share), x.Where(), Share(x.Mean), failed)
}

// Where says what the least share is of.
func (x *Score) Where() string {
	if x.Clause == "" {
		return "nothing judged"
	}
	return fmt.Sprintf("%s in %s, seed %d", x.Clause, x.Story, x.Seed)
}

// Share is a share as people read it.
func Share(n verdict.Number) string {
	v, known := n.Value()
	if !known {
		return "none"
	}
	return report.Minus(fmt.Sprintf("%+.3f", v))
}

func short(n verdict.Number) string {
	v, known := n.Value()
	if !known {
		return "none"
	}
	return report.Minus(fmt.Sprintf("%.4g", v))
}

// Robust says in a sentence how a setting stands where it was not chosen.
func (l *Look) Robust(spread float64) string {
	text := fmt.Sprintf(": worst share %s over the design's seeds, %s", Share(l.Share), l.Where())
	if l.Fresh != nil {
		text += fmt.Sprintf("; on fresh seeds %s, %s (%d of %d runs fail)", Share(l.Fresh.Share), l.Fresh.Where(), l.Fresh.Failed, l.Fresh.Runs)
	}
	if l.Sites != nil {
		text += fmt.Sprintf("; on sites within %.3g %% %s, %s (%d of %d runs fail)", 100*spread, Share(l.Sites.Share), l.Sites.Where(), l.Sites.Failed, l.Sites.Runs)
	}
	return text
}

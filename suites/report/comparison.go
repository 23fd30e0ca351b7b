package report

import (
	"fmt"
	"io"
	"strings"

	"kilter/suites/compare"
	"kilter/suites/verdict"
)

var comparisonHead = []string{"criterion", "change", "limit", "margin A", "margin B", "difference"}

// Comparison writes a comparison for a terminal: a block for each scenario in which anything changed, with a line for
// each criterion and why it counts or does not.
func Comparison(w io.Writer, c compare.Comparison, colour bool) error {
	t := table{colour: colour}
	same := 0
	for _, s := range c.Scenarios {
		if judgementOf(s) == compare.Same {
			same++
			continue
		}
		t.comparison(s)
		t.WriteString("\n")
	}
	counts := map[compare.Judgement]int{}
	for _, s := range c.Scenarios {
		for _, x := range s.Changes {
			counts[x.Judgement]++
		}
	}
	word := "NOT WORSE"
	class := string(verdict.Passed)
	if c.Worse {
		word, class = "WORSE", string(verdict.Failed)
	}
	fmt.Fprintf(&t, "%s: %d worse, %d better, %d unclear, %d the same; %d of %d scenarios without a change\n", t.painted(class, word),
		counts[compare.Worse], counts[compare.Better], counts[compare.Unclear], counts[compare.Same], same, len(c.Scenarios))
	for _, remark := range comparisonRemarks(c) {
		fmt.Fprintf(&t, "%s\n", printable(remark))
	}
	_, err := io.WriteString(w, t.String())
	return err
}

// comparisonRemarks are those of the comparison, what it counts as a change, and what is on one side only.
func comparisonRemarks(c compare.Comparison) []string {
	tolerance, _ := c.Tolerance.Value()
	level, _ := c.Level.Value()
	all := []string{fmt.Sprintf("A margin has changed where it moved by more than %g %% of its limit, and by more than seeds explain (at %g %% for all together).", 100*tolerance, 100*level)}
	all = append(all, c.Remarks...)
	for _, side := range []struct {
		name string
		only []string
	}{{"A", c.OnlyA}, {"B", c.OnlyB}} {
		if len(side.only) > 0 {
			all = append(all, "Only "+side.name+" has "+strings.Join(side.only, ", ")+".")
		}
	}
	return all
}

// judgementOf is the most telling of a scenario's changes.
func judgementOf(s compare.Scenario) compare.Judgement {
	for _, j := range []compare.Judgement{compare.Worse, compare.Better, compare.Unclear} {
		for _, x := range s.Changes {
			if x.Judgement == j {
				return j
			}
		}
	}
	return compare.Same
}

// judgementClass is the class that paints a judgement.
func judgementClass(j compare.Judgement) verdict.Status {
	switch j {
	case compare.Worse:
		return verdict.Failed
	case compare.Better:
		return verdict.Passed
	case compare.Unclear:
		return verdict.Undetermined
	}
	return ""
}

// sidesText tells which seeds are compared.
func sidesText(s compare.Scenario) string {
	switch {
	case s.Paired && len(s.SeedsA) == 1:
		return fmt.Sprintf("seed %d", s.SeedsA[0])
	case s.Paired:
		return spanOf(s.SeedsA) + ", in pairs"
	case len(s.SeedsA) == 1 && len(s.SeedsB) == 1:
		return fmt.Sprintf("seed %d against seed %d", s.SeedsA[0], s.SeedsB[0])
	}
	return spanOf(s.SeedsA) + " against " + spanOf(s.SeedsB)
}

func (t *table) comparison(s compare.Scenario) {
	j := judgementOf(s)
	fmt.Fprintf(t, "%s  %s  (%s)\n", t.painted(string(judgementClass(j)), strings.ToUpper(string(j))), printable(s.Name), sidesText(s))
	rows, statuses := [][]string{comparisonHead}, []verdict.Status{""}
	for _, x := range s.Changes {
		rows = append(rows, []string{printable(x.Title()), string(x.Judgement), printable(limitsText(x)),
			printable(typical(x.A)), printable(typical(x.B)), printable(figureOrDash(x.Difference, signed(x.Difference, x.Unit)))})
		statuses = append(statuses, judgementClass(x.Judgement))
	}
	t.grid(rows, 2, statuses)
	for _, x := range s.Changes {
		if x.Judgement != compare.Same {
			fmt.Fprintf(t, "  %s: %s\n", printable(x.Title()), printable(minusWithin(x.Why)))
		}
	}
}

// minusWithin sets the signs of the figures in a sentence as people write them.
func minusWithin(text string) string { return strings.ReplaceAll(text, " -", " −") }

// limitsText is the limit of both sides, or both where they differ.
func limitsText(x compare.Change) string {
	a, b := "", ""
	if x.A != nil {
		a = x.A.Limit
	}
	if x.B != nil {
		b = x.B.Limit
	}
	switch {
	case a == "" && b == "":
		return "–"
	case a == b || a == "":
		return b
	case b == "":
		return a
	}
	return a + " → " + b
}

// typical is the margin of a side's one seed, or the median over its seeds.
func typical(s *compare.Side) string {
	if s == nil {
		return "–"
	}
	return figureOrDash(s.MedianMargin, signed(s.MedianMargin, s.Unit))
}

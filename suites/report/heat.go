package report

import (
	"fmt"
	"math"
	"slices"

	"kilter/suites/verdict"
)

// heat is the margins of all runs at one glance: scenarios by criteria.
type heat struct {
	Criteria []string
	Rows     []heatRow
}

type heatRow struct {
	Scenario, Link, Class string
	Cells                 []heatCell
}

// heatCell is the worst margin of a criterion in a scenario as a share of its limit. Its class says how warm it
// is, and its text says the same without a colour.
type heatCell struct{ Text, Tip, Class, Link string }

// newHeat is nil where there is nothing to compare.
func newHeat(runs []verdict.Run, link func(verdict.Run) string) *heat {
	h := &heat{}
	place := map[string]int{}
	for _, run := range runs {
		for _, c := range run.Criteria {
			if !slices.Contains(h.Criteria, c.Name) {
				h.Criteria = append(h.Criteria, c.Name)
			}
		}
	}
	worst := []map[string]verdict.Criterion{}
	for _, run := range runs {
		i, known := place[run.Scenario]
		if !known {
			i = len(h.Rows)
			place[run.Scenario] = i
			h.Rows = append(h.Rows, heatRow{Scenario: run.Scenario, Link: link(run), Class: string(verdict.Passed),
				Cells: make([]heatCell, len(h.Criteria))})
			worst = append(worst, map[string]verdict.Criterion{})
		}
		if !run.Passed {
			h.Rows[i].Class = string(verdict.Failed)
		}
		for _, c := range run.Criteria {
			if old, told := worst[i][c.Name]; told && !worse(c, old) {
				continue
			}
			worst[i][c.Name] = c
			h.Rows[i].Cells[slices.Index(h.Criteria, c.Name)] = newHeatCell(c, run, link(run))
		}
	}
	if len(h.Rows) < 2 || len(h.Criteria) == 0 {
		return nil
	}
	return h
}

// worse says that one finding is worse than another on the same criterion.
func worse(a, b verdict.Criterion) bool {
	order := []verdict.Status{verdict.Failed, verdict.Undetermined, verdict.Passed, verdict.NotExercised}
	if x, y := slices.Index(order, a.Status), slices.Index(order, b.Status); x != y {
		return x < y
	}
	x, known := share(a)
	y, _ := share(b)
	return known && x < y
}

func newHeatCell(c verdict.Criterion, run verdict.Run, link string) heatCell {
	cell := heatCell{Link: link, Tip: fmt.Sprintf("%s, %s: %s", run.Scenario, c.Title(), c.Status.Words())}
	if c.Margin.Known() {
		cell.Tip += ", margin " + signed(c.Margin, c.Unit)
	}
	part, known := share(c)
	switch {
	case c.Status == verdict.NotExercised:
		cell.Text, cell.Class = "·", "idle"
	case c.Status == verdict.Undetermined:
		cell.Text, cell.Class = "?", "idle"
	case !known:
		cell.Text, cell.Class = c.Status.Words(), map[bool]string{true: "kept3", false: "broken3"}[c.Status == verdict.Passed]
	default:
		percent := math.Max(-999, math.Min(999, 100*part))
		cell.Text = Minus(fmt.Sprintf("%.0f", percent))
		cell.Class = fmt.Sprintf("%s%d", map[bool]string{true: "kept", false: "broken"}[c.Status == verdict.Passed], warmth(math.Abs(part)))
		if percent == -999 {
			cell.Text = "≤" + cell.Text
		}
		if c.Status == verdict.Failed {
			cell.Text = "✕ " + cell.Text
		}
	}
	return cell
}

// warmth is one of three steps: within a quarter of the limit, within the limit, beyond.
func warmth(part float64) int {
	switch {
	case part < 0.25:
		return 1
	case part < 0.75:
		return 2
	}
	return 3
}

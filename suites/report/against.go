package report

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"math"

	"kilter/suites/compare"
	"kilter/suites/verdict"
)

//go:embed against.html
var againstHTML string

var againstPage = template.Must(template.New("against").Funcs(pageFuncs).Parse(againstHTML))

// Recorded is a run of one side as it was recorded.
type Recorded struct {
	Run    verdict.Run
	Series Series
}

// Sides are the two sides of a comparison: how they are called, and where their records are.
type Sides struct {
	A, B string
	// Look finds the record of a scenario and seed on side A or B; false where there is none, and no plot then.
	Look func(side byte, scenario string, seed uint64) (Recorded, bool)
}

// Against writes the page of a comparison. For each change it lays the traces of the two sides over one another: those
// of the seed on which B is worst.
func Against(w io.Writer, c compare.Comparison, sides Sides) error {
	page := against{Word: "not worse", A: sides.A, B: sides.B, Remarks: comparisonRemarks(c), Cautions: Cautions, SignA: signAlone(signOfA), SignB: signAlone(signOfB)}
	if c.Worse {
		page.Word = "worse"
	}
	for _, s := range c.Scenarios {
		if judgementOf(s) == compare.Same {
			page.Same = append(page.Same, s.Name)
			continue
		}
		x, err := newAgainst(s, sides)
		if err != nil {
			return err
		}
		page.Scenarios = append(page.Scenarios, x)
	}
	var buffer bytes.Buffer
	if err := againstPage.Execute(&buffer, page); err != nil {
		return fmt.Errorf("comparison: %w", err)
	}
	_, err := w.Write(buffer.Bytes())
	return err
}

// against is what the template shows.
type against struct {
	Word, A, B   string
	SignA, SignB string
	Remarks      []string
	Scenarios    []againstScenario
	Same         []string
	Cautions     []string
}

type againstScenario struct {
	Name, Class, Word, Seeds string
	Rows                     []againstRow
	Figures                  []figure
}

type againstRow struct{ Name, Class, Judgement, Limit, A, B, Difference, Why, Strip string }

func newAgainst(s compare.Scenario, sides Sides) (againstScenario, error) {
	j := judgementOf(s)
	out := againstScenario{Name: s.Name, Class: string(judgementClass(j)), Word: string(j), Seeds: sidesText(s)}
	for _, x := range s.Changes {
		row := againstRow{Name: x.Title(), Class: string(judgementClass(x.Judgement)), Judgement: string(x.Judgement), Limit: limitsText(x),
			A: typical(x.A), B: typical(x.B), Difference: figureOrDash(x.Difference, signed(x.Difference, x.Unit)), Strip: strips(x)}
		if x.Judgement != compare.Same {
			row.Why = minusWithin(x.Why)
			f, drawn, err := overlay(s, x, sides)
			if err != nil {
				return out, err
			}
			if drawn {
				out.Figures = append(out.Figures, f)
			}
		}
		out.Rows = append(out.Rows, row)
	}
	return out, nil
}

// overlay draws what a criterion judges on both sides, on one seed.
func overlay(s compare.Scenario, x compare.Change, sides Sides) (figure, bool, error) {
	if x.A == nil || x.B == nil || sides.Look == nil {
		return figure{}, false, nil
	}
	seedB := x.B.WorstSeed
	seedA := seedB
	if !s.Paired {
		seedA = x.A.WorstSeed
	}
	a, hasA := sides.Look('A', s.Name, seedA)
	b, hasB := sides.Look('B', s.Name, seedB)
	if !hasA || !hasB {
		return figure{}, false, nil
	}
	var err error
	if a.Series, err = a.Series.prepared(); err != nil {
		return figure{}, false, err
	}
	if b.Series, err = b.Series.prepared(); err != nil {
		return figure{}, false, err
	}
	c := find(b.Run, x.B.OverSeeds)
	columns := shown(b.Series, c)
	if len(columns) == 0 || a.Series.rows() < 2 || b.Series.rows() < 2 || a.Series.StepS != b.Series.StepS {
		return figure{}, false, nil
	}
	p := panel{name: x.Title(), height: 200, to: math.Max(a.Series.endS(), b.Series.endS()), stepS: b.Series.StepS,
		start: b.Series.StartLocal, limits: judgedLimits(columns[0], c), overlaid: true}
	var all []Column
	for i, column := range columns {
		for _, old := range a.Series.named([]string{column.Name}) {
			old.Label = "A: " + column.Label
			p.lines = append(p.lines, ink{old, hues[i%len(hues)]})
			all = append(all, old)
		}
	}
	for i, column := range columns {
		column.Label = "B: " + column.Label
		hue := hues[1] // one column has a colour for each side; several keep their own, and B is dashed
		if len(columns) > 1 {
			hue = hues[i%len(hues)]
		}
		p.lines = append(p.lines, ink{column, hue + " dash"})
		all = append(all, column)
	}
	p.setUnit(all, p.stepS)
	if columns[0].Kind == SOC {
		p.lo, p.hi = math.Inf(1), math.Inf(-1)
	}
	caption := fmt.Sprintf("A and B on seed %d.", seedB)
	if seedA != seedB {
		caption = fmt.Sprintf("A on seed %d, B on seed %d.", seedA, seedB)
	}
	return newFigure(s.Name+", "+x.Title()+":", caption, p), true, nil
}

// shown are the columns that a criterion judges: one, or the states of charge together.
func shown(s Series, c verdict.Criterion) []Column {
	judged := judgedColumns(s, c)
	if len(judged) > 0 && judged[0].Kind != SOC {
		return judged[:1]
	}
	return sameUnit(judged)
}

// The signs of the two sides.
func signOfA(d *drawing, x, y float64) { d.ring("sideA", x, y, 3) }
func signOfB(d *drawing, x, y float64) { d.cross("sideB", x, y, 3) }

func signAlone(sign func(*drawing, float64, float64)) string {
	var d drawing
	d.WriteString(`<svg class="sign" viewBox="0 0 12 12" aria-hidden="true">`)
	sign(&d, 6, 6)
	d.close()
	return d.String()
}

// strips draws the margins of both sides as shares of the limit: A's above, B's below.
func strips(x compare.Change) string {
	var d drawing
	d.open(stripWidth, 2*stripHeight, "margins of A above and of B below")
	d.line("zero", stripWidth/2, 0, stripWidth/2, 2*stripHeight)
	for i, side := range []*compare.Side{x.A, x.B} {
		y := (float64(i) + 0.5) * stripHeight
		d.line("grid", 0, y, stripWidth, y)
		if side == nil {
			continue
		}
		for _, m := range side.Margins {
			part, known := side.Share(m)
			if !known {
				continue
			}
			at := stripWidth/2 + float64(math.Max(-1, math.Min(1, part))*(stripWidth/2-5))
			if i == 0 {
				signOfA(&d, at, y)
			} else {
				signOfB(&d, at, y)
			}
		}
	}
	d.close()
	return d.String()
}

package sweep

import (
	"fmt"
	"math"
	"slices"

	"kilter/suites/report"
)

// maps are tables of the least share by each two of the knobs: over all values of the others, and with the others as
// recommended. One knob alone makes a table of one row.
func (p *Plan) maps(m *Summary, scores []Score) []report.ShareMap {
	axes := make([]axis, len(p.Knobs))
	for k, knob := range p.Knobs {
		axes[k] = p.axis(k, knob)
	}
	if len(p.Knobs) == 1 {
		t := axes[0].against(axis{name: "share", labels: []string{"worst"}, at: func(Point) int { return 0 }})
		t.fill(scores, func(Point) bool { return true })
		t.mark(m.Recommended.Settings)
		t.Caption = "The worst share at each value."
		return []report.ShareMap{t.ShareMap}
	}
	var list []report.ShareMap
	for y := range p.Knobs {
		for x := y + 1; x < len(p.Knobs); x++ {
			t := axes[x].against(axes[y])
			t.fill(scores, func(Point) bool { return true })
			t.mark(m.Recommended.Settings)
			switch {
			case m.Design != Grid:
				t.Caption = "The worst share of all settings in each part of the two ranges, whatever the others are. The frame is where the recommended one is; its own share may be larger."
			case len(p.Knobs) == 2:
				t.Caption = "The worst share at each two values."
			default:
				t.Caption = "The worst share at each two values, whatever the others are."
			}
			list = append(list, t.ShareMap)
			if m.Design != Grid || len(p.Knobs) == 2 {
				continue
			}
			t = axes[x].against(axes[y])
			chosen := Point(m.Recommended.Settings)
			t.fill(scores, func(q Point) bool {
				for k := range q {
					if k != x && k != y && q[k] != chosen[k] {
						return false
					}
				}
				return true
			})
			t.mark(chosen)
			t.Caption = "The same, with the others as recommended:"
			for k, knob := range p.Knobs {
				if k != x && k != y {
					t.Caption += fmt.Sprintf(" %s %s", knob.Name, chosen[k])
				}
			}
			t.Caption += "."
			list = append(list, t.ShareMap)
		}
	}
	return list
}

// axis is one side of a table: a knob's values, or parts of its range.
type axis struct {
	name   string
	labels []string
	at     func(Point) int
}

// axis of a knob: its values where they are listed, and else so many parts of its range that most have points of the design.
func (p *Plan) axis(k int, knob *Knob) axis {
	if knob.Values != nil {
		return axis{knob.Name, knob.Values, func(q Point) int { return slices.Index(knob.Values, q[k]) }}
	}
	parts := min(max(int(math.Sqrt(float64(len(p.Points))/3)), 2), 10)
	a := axis{name: knob.Name, at: func(q Point) int {
		v, _ := knob.Figure(q[k])
		return min(max(int(float64(parts)*(v-knob.low)/(knob.high-knob.low)), 0), parts-1)
	}}
	for i := range parts {
		a.labels = append(a.labels, "from "+knob.at(float64(i)/float64(parts)))
	}
	return a
}

// table is a table under construction.
type table struct {
	report.ShareMap
	x, y axis
}

func (x axis) against(y axis) *table {
	t := &table{report.ShareMap{X: x.name, Y: y.name, XValues: x.labels, YValues: y.labels}, x, y}
	t.Cells = make([][]float64, len(y.labels))
	for i := range t.Cells {
		t.Cells[i] = slices.Repeat([]float64{math.NaN()}, len(x.labels))
	}
	return t
}

// fill takes the least share of the settings that are wanted.
func (t *table) fill(scores []Score, wanted func(Point) bool) {
	for _, s := range scores {
		share, known := s.Share.Value()
		if !known || !wanted(s.Settings) {
			continue
		}
		if cell := &t.Cells[t.y.at(s.Settings)][t.x.at(s.Settings)]; !(share >= *cell) {
			*cell = share
		}
	}
}

func (t *table) mark(chosen Point) { t.AtX, t.AtY = t.x.at(chosen), t.y.at(chosen) }

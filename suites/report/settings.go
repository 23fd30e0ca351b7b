package report

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"math"
)

//go:embed settings.html
var settingsHTML string

var settingsPage = template.Must(template.New("settings").Funcs(pageFuncs).Parse(settingsHTML))

// Settings is what a page tells of settings that were tried: words that are ready to be shown, and figures to be drawn.
type Settings struct {
	// Headline names the recommended setting, and Word and Passed say whether it is any good.
	Headline, Word string
	Passed         bool
	Sentence       string
	Facts          [][2]string
	// Head and Rows are the table of settings. The first cell of a row names it, or is empty.
	Head []string
	Rows [][]string
	// Hidden is how many more rows there would be.
	Hidden int
	// Robust are the lines of the picture of how settings stand where they were not chosen.
	Robust []Lot
	Notes  []string
	Clouds []Cloud
	Maps   []ShareMap
	// Command plays the recommended setting.
	Command string
}

// Lot is one line of shares.
type Lot struct {
	Name   string
	Shares []float64
}

// Cloud is a plot of settings by two goals.
type Cloud struct {
	X, Y string
	// Dots are the settings; Front are the places among them that nothing beats, in the order of X, and Chosen is the recommended one.
	Dots   []Dot
	Front  []int
	Chosen int
}

// Dot is one setting by two goals.
type Dot struct {
	X, Y   float64
	Passed bool
	Tip    string
}

// ShareMap is a table of shares by two things that were varied.
type ShareMap struct {
	X, Y, Caption    string
	XValues, YValues []string
	// Cells are by row, which is Y, and then by column; NaN where there is none.
	Cells [][]float64
	// AtX and AtY are where the recommended setting is, -1 where it is nowhere in the table.
	AtX, AtY int
}

// WriteSettings writes the page.
func WriteSettings(w io.Writer, s Settings) error {
	page := settingsShown{Settings: s, Class: "failed", Cautions: Cautions}
	if s.Passed {
		page.Class = "passed"
	}
	if len(s.Robust) > 0 {
		page.Figures = append(page.Figures, newFigure("Seeds and sites.", "Each ring is the least share of a run, and of the design the least of all runs of one seed; the upright stroke is the least of its line. Left of 0 a criterion fails.", lots(s.Robust)))
	}
	for _, c := range s.Clouds {
		page.Goals = append(page.Goals, newFigure(c.Y+" against "+c.X+".", "Each ring is a setting in its worst run, a cross one that fails somewhere. The line joins those that nothing beats; the square is the recommended one.", c))
	}
	colours := newTint(s.Maps)
	for _, m := range s.Maps {
		page.Tables = append(page.Tables, m.shown(colours))
	}
	page.Scale = colours.scale()
	var buffer bytes.Buffer
	if err := settingsPage.Execute(&buffer, page); err != nil {
		return fmt.Errorf("settings: %w", err)
	}
	_, err := w.Write(buffer.Bytes())
	return err
}

// settingsShown is what the template shows.
type settingsShown struct {
	Settings
	Class    string
	Figures  []figure
	Goals    []figure
	Tables   []shownMap
	Scale    []tinted
	Cautions []string
}

type shownMap struct {
	ShareMap
	Rows []shownRow
}

type shownRow struct {
	Name  string
	Cells []tinted
}

// tinted is a cell with its colour; the colour is a part of one of two inks on the paper, so that it follows light and dark.
type tinted struct {
	Text, Tip, Class string
	Ink              template.CSS
}

func (m ShareMap) shown(colours tint) shownMap {
	out := shownMap{ShareMap: m}
	for y, name := range m.YValues {
		row := shownRow{Name: name}
		for x := range m.XValues {
			cell := colours.cell(m.Cells[y][x])
			cell.Tip = fmt.Sprintf("%s %s, %s %s: %s", m.X, m.XValues[x], m.Y, name, cell.Text)
			if x == m.AtX && y == m.AtY {
				cell.Class += " chosen"
				cell.Tip += ", recommended"
			}
			row.Cells = append(row.Cells, cell)
		}
		out.Rows = append(out.Rows, row)
	}
	return out
}

// tint gives shares their colours: what fails in one ink, what passes in another, each from pale to strong over what occurs.
type tint struct{ low, high float64 }

// Strengths of an ink: the palest still differs from the paper, and text is still read on the strongest.
const (
	palest    = 6.0
	strongest = 62.0
	scaleMost = 7 // steps that the scale shows
)

func newTint(maps []ShareMap) tint {
	t := tint{math.Inf(1), math.Inf(-1)}
	for _, m := range maps {
		for _, row := range m.Cells {
			for _, v := range row {
				if !math.IsNaN(v) {
					t.low, t.high = math.Min(t.low, v), math.Max(t.high, v)
				}
			}
		}
	}
	return t
}

// cell is a share with its colour.
func (t tint) cell(v float64) tinted {
	if math.IsNaN(v) {
		return tinted{Text: "·", Class: "idle"}
	}
	// Strong is far from the limit. Where nothing fails, or all does, the ink begins at the share nearest to it.
	near, far, class, mark := math.Max(0, t.low), t.high, "kept", ""
	if v < 0 {
		near, far, class, mark = math.Max(0, -t.high), -t.low, "broken", "✕\u202f"
	}
	part := 1.0
	if far > near {
		part = (math.Abs(v) - near) / (far - near)
	}
	return tinted{Text: mark + Minus(fmt.Sprintf("%.3f", v)), Class: class,
		Ink: template.CSS(fmt.Sprintf("--ink:%.0f%%", palest+part*(strongest-palest)))}
}

// scale shows which colour stands for which share.
func (t tint) scale() []tinted {
	if t.low > t.high {
		return nil
	}
	if t.low == t.high {
		return []tinted{t.cell(t.low)}
	}
	var list []tinted
	for i := range scaleMost {
		list = append(list, t.cell(t.low+(t.high-t.low)*float64(i)/(scaleMost-1)))
	}
	return list
}

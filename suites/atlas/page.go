package atlas

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"strings"
)

//go:embed page.html
var pageHTML string

//go:embed page.css
var pageCSS string

var page = template.Must(template.New("atlas").Parse(pageHTML))

func escape(s string) string { return template.HTMLEscapeString(s) }

// Write writes the page of pictures as one self-contained HTML file. Equal pictures give equal bytes.
func Write(w io.Writer, pictures []Picture) error {
	content := struct {
		CSS             template.CSS
		Sections        []*section
		Pictures, Count int
		Failed          int
		Marks           string
	}{CSS: template.CSS(pageCSS), Pictures: len(pictures)}
	for _, p := range pictures {
		s, err := newSheet(p)
		if err != nil {
			return err
		}
		content.Count += len(p.Checks)
		content.Failed += s.Failed
		if n := len(content.Sections); n == 0 || content.Sections[n-1].Name != p.Section {
			content.Sections = append(content.Sections, &section{Name: p.Section})
		}
		last := content.Sections[len(content.Sections)-1]
		last.Sheets = append(last.Sheets, s)
	}
	content.Marks = marks(pictures)
	var out bytes.Buffer
	if err := page.Execute(&out, content); err != nil {
		return fmt.Errorf("atlas: %w", err)
	}
	_, err := w.Write(out.Bytes())
	return err
}

// marks says how many values carry each mark.
func marks(pictures []Picture) string {
	var parts []string
	for mark := Published; mark <= FromMemory; mark++ {
		n := 0
		for _, p := range pictures {
			for _, c := range p.Checks {
				if c.Mark == mark {
					n++
				}
			}
		}
		if n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", n, mark))
		}
	}
	return strings.Join(parts, ", ")
}

type section struct {
	Name   string
	Sheets []sheet
}

// sheet is a picture as the page shows it.
type sheet struct {
	Picture
	Legend  []key
	Drawn   []template.HTML
	Verdict string
	Failed  int
	Table   []entry
}

// key is one entry of the legend.
type key struct {
	Swatch template.HTML
	Name   string
}

// entry is one line of the table of values.
type entry struct{ ID, What, Value, Model, Deviation, Tolerance, Mark string }

func newSheet(p Picture) (sheet, error) {
	s := sheet{Picture: p, Verdict: p.LargestDeviation()}
	height := panelHeight
	if len(p.Panels) > 1 {
		height = stackHeight
	}
	named := map[string]bool{}
	for i, panel := range p.Panels {
		var points []Check
		for _, c := range p.Checks {
			if c.Panel == i && c.drawn() {
				points = append(points, c)
			}
		}
		label := p.Title + ": " + panel.Y.Label + " over " + panel.X.Label
		drawing, err := panel.svg(height, label, points)
		if err != nil {
			return s, fmt.Errorf("picture %s: %w", p.ID, err)
		}
		s.Drawn = append(s.Drawn, template.HTML(drawing)) // its text was escaped by the drawing
		for _, c := range panel.Curves {
			if c.Name != "" && !named[c.Name] {
				named[c.Name] = true
				s.Legend = append(s.Legend, key{lineSwatch(c), c.Name})
			}
		}
		if len(panel.Bars) > 0 {
			s.Legend = append(s.Legend, key{swatch(`<rect x="4" y="1" width="18" height="10" fill="var(--c0)"/>`), "model"})
		}
	}
	for mark := Published; mark <= FromMemory; mark++ {
		for _, c := range p.Checks {
			if c.Mark == mark && c.drawn() {
				s.Legend = append(s.Legend, key{pointSwatch(mark), "value " + mark.String()})
				break
			}
		}
	}
	for _, c := range p.Checks {
		if !c.Holds() {
			s.Failed++
		}
		s.Table = append(s.Table, entry{ID: c.ID, What: c.What, Value: [...]string{"", "≥ ", "≤ "}[c.Bound] + figure(c.Value, 13) + space(c.Unit),
			Model: figure(c.Model, 10), Deviation: figure(c.Deviation(), 2), Tolerance: figure(c.Tolerance, 3), Mark: strings.TrimSuffix(c.Mark.String(), " from the published formula")})
	}
	return s, nil
}

func swatch(inner string) template.HTML {
	return template.HTML(`<svg class="key" viewBox="0 0 26 12" aria-hidden="true">` + inner + `</svg>`)
}

func lineSwatch(c Curve) template.HTML {
	dash := ""
	if c.Dashed {
		dash = fmt.Sprintf(` stroke-dasharray="%g,%g"`, dashOn, dashOff)
	}
	return swatch(fmt.Sprintf(`<path d="M1 6H25" stroke="var(--c%d)" stroke-width="2"%s/>`, c.Hue%len(hues), dash))
}

func pointSwatch(m Mark) template.HTML {
	return swatch([...]string{
		`<circle cx="13" cy="6" r="4" fill="var(--ink)"/>`,
		`<circle cx="13" cy="6" r="3.6" fill="none" stroke="var(--ink)"/>`,
		`<rect x="9.5" y="2.5" width="7" height="7" fill="none" stroke="var(--ink)"/>`,
		`<path d="M9 2L17 10M9 10L17 2" stroke="var(--ink)"/>`,
	}[m])
}

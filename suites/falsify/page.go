package falsify

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"io"
	"math"
	"strings"

	"kilter/suites/verdict"
)

//go:embed page.html
var pageHTML string

//go:embed page.css
var pageCSS string

var page = template.Must(template.New("falsify").Parse(pageHTML))

// rangeRow is one parameter's coverage.
type rangeRow struct {
	Name, Low, High, About string
	Strip                  template.HTML
	Met, All               int
}

// Page writes what a hunt came to as one self-contained HTML file.
func (f *File) Page(h *Hunt) func(io.Writer) error {
	return func(w io.Writer) error {
		content := struct {
			CSS            template.CSS
			File           *File
			Who            string
			Margins, Pairs template.HTML
			Ranges         []rangeRow
			Story, Title   string
		}{
			CSS: template.CSS(pageCSS), File: f, Who: contestantOf(f), Margins: h.margins(), Pairs: pairs(f.Coverage),
			Story: h.Problem.Within.Story, Title: h.Problem.Within.Title,
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
	return verdict.QuantityBeside(c.Finding.Observed, c.Finding.Limit, c.Finding.Unit) + ", limit " + verdict.Quantity(c.Finding.Limit, c.Finding.Unit)
}

// Sizes of the picture of margins, in its own units.
const (
	wide, high  = 1000.0, 300.0
	left, right = 56.0, 12.0
	top, bottom = 10.0, 34.0
)

// margins draws each run's share by its number, the least so far as a line, and counterexamples as crosses. Shares beyond -1 and 1 are
// drawn there.
func (h *Hunt) margins() template.HTML {
	var b strings.Builder
	n := max(2, len(h.Trials))
	x := func(run int) float64 { return left + (wide-left-right)*float64(run-1)/float64(n-1) }
	y := func(v float64) float64 { return top + (high-top-bottom)*(1-min(max(v, -1), 1))/2 }
	fmt.Fprintf(&b, `<svg viewBox="0 0 %g %g" role="img" aria-label="The least margin of each run, and the least so far">`, wide, high)
	for _, v := range []float64{-1, -0.5, 0, 0.5, 1} {
		class, sign := "rule", fmt.Sprintf("%+g", v)
		if v == 0 {
			class, sign = "zero", "0"
		}
		fmt.Fprintf(&b, `<path class="%s" d="M%g %.1fH%g"/><text x="%g" y="%.1f" text-anchor="end">%s</text>`, class, left, y(v), wide-right, left-6, y(v)+4, sign)
	}
	for _, run := range marks(n) {
		fmt.Fprintf(&b, `<text x="%.1f" y="%g" text-anchor="middle">%d</text>`, x(run), high-bottom+18, run)
	}
	fmt.Fprintf(&b, `<text x="%g" y="%g" text-anchor="end">run</text>`, wide-right, high-2)
	var path strings.Builder
	least := math.Inf(1)
	for i := range h.Trials {
		t := &h.Trials[i]
		switch {
		case math.IsNaN(t.Share):
			continue
		case t.Share < 0:
			fmt.Fprintf(&b, `<path class="fails" d="M%.1f %.1fl6 6m0 -6l-6 6"><title>run %d: %s %.2g</title></path>`, x(t.Run)-3, y(t.Share)-3, t.Run, t.Clause, t.Share)
		default:
			fmt.Fprintf(&b, `<circle class="holds" cx="%.1f" cy="%.1f" r="2"><title>run %d: %s %.2g</title></circle>`, x(t.Run), y(t.Share), t.Run, t.Clause, t.Share)
		}
		if t.Share < least {
			if path.Len() == 0 {
				fmt.Fprintf(&path, "M%.1f %.1f", x(t.Run), y(t.Share))
			} else {
				fmt.Fprintf(&path, "H%.1fV%.1f", x(t.Run), y(t.Share))
			}
			least = t.Share
		}
	}
	if path.Len() > 0 {
		fmt.Fprintf(&b, `<path class="least" d="%sH%.1f"/>`, path.String(), x(len(h.Trials)))
	}
	b.WriteString("</svg>")
	return template.HTML(b.String())
}

// marks are the runs that are named under the picture.
func marks(n int) []int {
	list := []int{1}
	step := int(math.Pow10(int(math.Log10(float64(n)))))
	if n/step < 3 {
		step = max(1, step/5)
	}
	for run := step; run <= n; run += step {
		if run > 1 {
			list = append(list, run)
		}
	}
	return list
}

// strip draws how many cases fell into each part of a range: the stronger the colour, the more.
func strip(p Covered) template.HTML {
	most := 1
	for _, n := range p.Counts {
		most = max(most, n)
	}
	var b strings.Builder
	cell := 200.0 / float64(len(p.Counts))
	fmt.Fprintf(&b, `<svg class="strip" viewBox="0 0 200 16" role="img" aria-label="%s: %d of %d parts met">`, template.HTMLEscapeString(p.Name), p.Met, len(p.Counts))
	for i, n := range p.Counts {
		fmt.Fprintf(&b, `<rect class="cell" x="%.1f" y="1" width="%.1f" height="14" fill-opacity="%.2f"><title>%d</title></rect>`,
			float64(i)*cell+0.5, cell-1, shade(float64(n)/float64(most)), n)
	}
	b.WriteString("</svg>")
	return template.HTML(b.String())
}

// shade keeps what was met at all apart from what was not.
func shade(share float64) float64 {
	if share == 0 {
		return 0
	}
	return 0.2 + 0.8*share
}

// pairs draws how much of each pair of parameters was met.
func pairs(c Coverage) template.HTML {
	n := len(c.Parameters)
	const cell, name = 22.0, 110.0
	size := name + cell*float64(n)
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="pairs" viewBox="0 0 %g %g" role="img" aria-label="The share of cells met of each pair of parameters">`, size+name, size)
	for i, p := range c.Parameters {
		at := float64(i) * cell
		fmt.Fprintf(&b, `<text x="%g" y="%g" text-anchor="end">%s</text>`, name-6, at+cell-7, template.HTMLEscapeString(p.Name))
		fmt.Fprintf(&b, `<text transform="translate(%g %g) rotate(45)">%s</text>`, name+at+8, cell*float64(n)+14, template.HTMLEscapeString(p.Name))
		for k := range i {
			fmt.Fprintf(&b, `<rect class="cell" x="%g" y="%g" width="%g" height="%g" fill-opacity="%.2f"><title>%s and %s: %.0f %%</title></rect>`,
				name+float64(k)*cell+1, at+1, cell-2, cell-2, shade(p.With[k]), template.HTMLEscapeString(p.Name), template.HTMLEscapeString(c.Parameters[k].Name), 100*p.With[k])
		}
	}
	b.WriteString("</svg>")
	return template.HTML(b.String())
}

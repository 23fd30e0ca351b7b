package falsify

import (
	"fmt"
	"html/template"
	"math"
	"strings"

	"kilter/suites/report"
)

// Sizes of the picture of margins, in its own units.
const (
	high        = 300.0
	left, right = 44.0, 12.0
	top, bottom = 10.0, 34.0
	apart       = 70.0 // of the runs that are named under it, at least
)

// margins draws each run's share by its number over a width, the least so far as a line, and counterexamples as crosses. Shares beyond
// -1 and 1 are drawn there, and the scale says so.
func (h *Hunt) margins(wide float64) template.HTML {
	var b strings.Builder
	n := max(2, len(h.Trials))
	x := func(run int) float64 { return left + (wide-left-right)*float64(run-1)/float64(n-1) }
	y := func(v float64) float64 { return top + (high-top-bottom)*(1-min(max(v, -1), 1))/2 }
	fmt.Fprintf(&b, `<svg viewBox="0 0 %g %g" role="img" aria-label="The least margin of each run, and the least so far">`, wide, high)
	for _, v := range []float64{-1, -0.5, 0, 0.5, 1} {
		class, sign := "grid", report.Minus(fmt.Sprintf("%+g", v))
		switch {
		case v == 0:
			class, sign = "zero", "0"
		case v == -1 && h.beyond(func(share float64) bool { return share < -1 }):
			sign = "≤ −1"
		case v == 1 && h.beyond(func(share float64) bool { return share > 1 }):
			sign = "≥ +1"
		}
		fmt.Fprintf(&b, `<path class="%s" d="M%g %.1fH%g"/><text class="e" x="%g" y="%.1f">%s</text>`, class, left, y(v), wide-right, left-6, y(v)+4, sign)
	}
	for _, run := range marks(n, int((wide-left-right)/apart)) {
		fmt.Fprintf(&b, `<text class="m" x="%.1f" y="%g">%d</text>`, x(run), high-bottom+18, run)
	}
	fmt.Fprintf(&b, `<text class="e dim" x="%g" y="%g">run</text>`, wide-right, high-2)
	var path strings.Builder
	least := math.Inf(1)
	for i := range h.Trials {
		t := &h.Trials[i]
		if math.IsNaN(t.Share) {
			continue
		}
		tip := fmt.Sprintf("run %d: %s %s", t.Run, template.HTMLEscapeString(t.Clause), report.Minus(fmt.Sprintf("%.2g", t.Share)))
		if t.Share < 0 {
			fmt.Fprintf(&b, `<path class="moment" d="M%.1f %.1fl6 6m0 -6l-6 6"><title>%s</title></path>`, x(t.Run)-3, y(t.Share)-3, tip)
		} else {
			fmt.Fprintf(&b, `<circle class="ring sideA" cx="%.1f" cy="%.1f" r="3"><title>%s</title></circle>`, x(t.Run), y(t.Share), tip)
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
		fmt.Fprintf(&b, `<path class="tick" d="%sH%.1f"/>`, path.String(), x(len(h.Trials)))
	}
	b.WriteString("</svg>")
	return template.HTML(b.String())
}

// beyond says that any share is drawn elsewhere than it is.
func (h *Hunt) beyond(is func(share float64) bool) bool {
	for i := range h.Trials {
		if is(h.Trials[i].Share) {
			return true
		}
	}
	return false
}

// marks are the runs that are named under the picture, the first and not many more than so many: each one, or each second, fifth, tenth and so on.
func marks(n, most int) []int {
	step := 1
	for k := 0; n/step > most; k++ {
		step = int(math.Pow10(k/3)) * [...]int{2, 5, 10}[k%3]
	}
	list := []int{1}
	for run := step; run <= n; run += step {
		if run-1 > step/2 {
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
	fmt.Fprintf(&b, `<svg viewBox="0 0 %g %g" style="width: %gpx" role="img" aria-label="The share of cells met of each pair of parameters">`, size+name, size, size+name)
	for i, p := range c.Parameters {
		at := float64(i) * cell
		fmt.Fprintf(&b, `<text x="%g" y="%g" class="e">%s</text>`, name-6, at+cell-7, template.HTMLEscapeString(p.Name))
		fmt.Fprintf(&b, `<text transform="translate(%g %g) rotate(45)">%s</text>`, name+at+8, cell*float64(n)+14, template.HTMLEscapeString(p.Name))
		for k := range i {
			fmt.Fprintf(&b, `<rect class="cell" x="%g" y="%g" width="%g" height="%g" fill-opacity="%.2f"><title>%s and %s: %.0f %%</title></rect>`,
				name+float64(k)*cell+1, at+1, cell-2, cell-2, shade(p.With[k]), template.HTMLEscapeString(p.Name), template.HTMLEscapeString(c.Parameters[k].Name), 100*p.With[k])
		}
	}
	b.WriteString("</svg>")
	return template.HTML(b.String())
}

package report

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"kilter/suites/verdict"
)

// drawing writes SVG elements. Colours and fonts are classes, which the
// page's style sheet fills in for light, dark and print. Coordinates are
// rounded to a tenth of a unit: finer does not show, and would make the page
// large and its last digits restless.
type drawing struct{ strings.Builder }

func (d *drawing) open(width, height float64, label string) {
	fmt.Fprintf(d, `<svg viewBox="0 0 %s %s" role="img" aria-label="%s">`, number(width), number(height), escaped(label))
}

// openPlot opens a picture with a time axis, which tells the page's script what span it shows.
func (d *drawing) openPlot(width, height float64, label string, plot span, more string) {
	fmt.Fprintf(d, `<svg class="plot" viewBox="0 0 %s %s" role="img" aria-label="%s" data-from="%s" data-to="%s"%s>`,
		number(width), number(height), escaped(label), exact(plot.from), exact(plot.to), more)
}

func (d *drawing) close() { d.WriteString("</svg>\n") }

// field opens the nested viewport that holds what lies along the time axis: the page's script stretches it to
// zoom. Text stands outside, where nothing stretches it.
func (d *drawing) field(x, y, width, height float64, more string) {
	fmt.Fprintf(d, `<svg class="field" x="%s" y="%s" width="%s" height="%s" viewBox="0 0 %s %s" preserveAspectRatio="none"%s>`,
		number(x), number(y), number(width), number(height), number(width), number(height), more)
}

// at opens a group that stands at a moment, and moves with it when the page's script zooms.
func (d *drawing) at(t float64) { fmt.Fprintf(d, `<g data-t="%s">`, exact(t)) }

// during opens a group that belongs to a stretch of time.
func (d *drawing) during(from, to float64) {
	fmt.Fprintf(d, `<g data-t="%s" data-until="%s">`, exact(from), exact(to))
}

// group opens a group that the page's script finds by its class.
func (d *drawing) group(class string) { fmt.Fprintf(d, `<g class="%s">`, class) }

func (d *drawing) ungroup() { d.WriteString("</g>") }

// exact writes a figure for the page's script, to seven digits.
func exact(v float64) string { return verdict.Of(v).String() }

// clip opens a nested viewport, which cuts off what leaves it and needs no
// id as a clip path would. Coordinates inside start at its corner.
func (d *drawing) clip(x, y, width, height float64) {
	fmt.Fprintf(d, `<svg x="%s" y="%s" width="%s" height="%s">`, number(x), number(y), number(width), number(height))
}

func (d *drawing) unclip() { d.WriteString("</svg>") }

func (d *drawing) line(class string, x1, y1, x2, y2 float64) {
	fmt.Fprintf(d, `<path class="%s" d="M%s %sL%s %s"/>`, class, number(x1), number(y1), number(x2), number(y2))
}

func (d *drawing) rect(class string, x, y, width, height float64) {
	fmt.Fprintf(d, `<rect class="%s" x="%s" y="%s" width="%s" height="%s"/>`, class, number(x), number(y), number(width), number(height))
}

func (d *drawing) path(class, data string) { d.traced(class, data, "") }

// traced writes a path that the page's script redraws from the record, with what it needs to know.
func (d *drawing) traced(class, data, more string) {
	if data != "" {
		fmt.Fprintf(d, `<path class="%s" d="%s"%s/>`, class, data, more)
	}
}

// text writes one line of text; class holds "e" for end-anchored and "m" for
// centred text.
func (d *drawing) text(class string, x, y float64, s string) {
	fmt.Fprintf(d, `<text class="%s" x="%s" y="%s">%s</text>`, class, number(x), number(y), escaped(s))
}

func number(v float64) string { return tenths(int(math.Round(v * 10))) }

// tenths writes n/10 in as few bytes as SVG allows: .5 for 0.5.
func tenths(n int) string {
	text := strconv.FormatFloat(float64(n)/10, 'f', -1, 64)
	if n > -10 && n < 10 {
		return strings.Replace(text, "0.", ".", 1)
	}
	return text
}

// escaped makes any text safe inside an element and inside double quotes.
// Control characters, which XML forbids, become the replacement character.
func escaped(s string) string {
	var b strings.Builder
	for _, r := range s {
		switch {
		case r == '&':
			b.WriteString("&amp;")
		case r == '<':
			b.WriteString("&lt;")
		case r == '>':
			b.WriteString("&gt;")
		case r == '"':
			b.WriteString("&#34;")
		case r == '\'':
			b.WriteString("&#39;")
		case r < ' ' || r == 0x7f || r == 0xfffe || r == 0xffff:
			b.WriteRune('\uFFFD')
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}

// textWidth estimates the width of s at the figures' text size. The reader's
// font is unknown, so the estimate is on the wide side: a label that is left
// out costs less than two that overlap.
func textWidth(s string) float64 {
	em := 0.0
	for _, r := range s {
		switch {
		case strings.ContainsRune("iljtfrI.,:;'|!()[] /", r):
			em += 0.36
		case r >= 0x2e80:
			em += 1.05
		case r >= 'A' && r <= 'Z', r == 'm', r == 'w', r == '%', r == '_':
			em += 0.78
		default:
			em += 0.62
		}
	}
	return em * textSize
}

// textSize is the figures' font size in their own units; the style sheet
// repeats it.
const textSize = 12

// clipped shortens s to the width, with an ellipsis.
func clipped(s string, width float64) string {
	if textWidth(s) <= width {
		return s
	}
	runes := []rune(s)
	for len(runes) > 0 && textWidth(string(runes)+"…") > width {
		runes = runes[:len(runes)-1]
	}
	return string(runes) + "…"
}

// trail builds path data from points, each move relative to the last, so
// that a long path stays short. It merges level stretches.
type trail struct {
	strings.Builder
	x, y, level int
	down        bool
}

// lift ends the stroke; the next point starts another.
func (t *trail) lift() { t.flush(); t.down = false }

func (t *trail) to(x, y float64) {
	xt, yt := int(math.Round(x*10)), int(math.Round(y*10))
	if !t.down {
		t.flush()
		t.down = true
		t.WriteString("M" + tenths(xt) + " " + tenths(yt))
		t.x, t.y = xt, yt
		return
	}
	dx, dy := xt-t.x, yt-t.y
	t.x, t.y = xt, yt
	if dx == 0 && dy == 0 {
		return
	}
	if dy == 0 && (t.level == 0 || (t.level > 0) == (dx > 0)) {
		t.level += dx
		return
	}
	t.flush()
	switch {
	case dy == 0:
		t.level = dx
	case dx == 0:
		t.WriteString("v" + tenths(dy))
	default:
		t.WriteString("l" + tenths(dx) + " " + tenths(dy))
	}
}

func (t *trail) flush() {
	if t.level != 0 {
		t.WriteString("h" + tenths(t.level))
		t.level = 0
	}
}

// shut closes the outline of an area.
func (t *trail) shut() {
	if t.down {
		t.flush()
		t.WriteString("z")
		t.down = false
	}
}

// height returns the y of the last point.
func (t *trail) height() float64 { return float64(t.y) / 10 }

func (t *trail) data() string { t.flush(); return t.String() }

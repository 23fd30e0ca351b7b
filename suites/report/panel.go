package report

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"kilter/suites/verdict"
)

// The two widths at which each figure is drawn, in its own units, which are
// pixels where the column is as wide.
const (
	wide   = 900
	narrow = 400
)

const (
	leftMargin  = 52
	rightMargin = 12
	rowHeight   = 17 // One line of legend or axis labels.
)

// panel is one plot over a span of simulated time.
type panel struct {
	name     string // What the plot shows, for readers who cannot see it.
	unit     string // As it is written at the axis.
	factor   float64
	lo, hi   float64 // The least range of the axis, in the columns' unit.
	height   float64
	from, to float64
	stepS    float64
	start    time.Time
	lines    []ink
	stack    []ink
	limits   []limit
	overlaid bool // Several runs lie over one another: what went beyond the limit belongs to no single one.
	wanted   []Window
	flags    []flag
	worst    *worst
}

// ink is a column and the class that colours it.
type ink struct {
	column Column
	class  string
}

// stroke returns the class of the i-th line. The first is drawn first and
// broadest, so that lines which coincide show one inside the other.
func (p panel) stroke(i int) string {
	k := p.lines[i]
	if i == 0 && len(p.lines) > 1 {
		return "line broad " + k.class
	}
	return "line " + k.class
}

// source tells the page's script which column of the record a path is drawn from, and as what.
func (k ink) source(as string) string {
	return fmt.Sprintf(` data-draw="%s" data-column="%d"`, as, k.column.index)
}

// shows tells the page's script which columns the plot shows, and how their figures read.
func (p panel) shows() string {
	text := ""
	for _, k := range slices.Concat(p.lines, p.stack) {
		text += fmt.Sprintf(" %d", k.column.index)
	}
	return fmt.Sprintf(` data-columns="%s" data-unit="%s" data-factor="%s"`, strings.TrimPrefix(text, " "), escaped(p.unit), exact(p.factor))
}

// limit is a level that the column must stay under or over.
type limit struct {
	at    float64
	side  verdict.Bound
	label string
}

// flag is a moment marked across the plot: a number for what the scenario
// does, a letter for a failure.
type flag struct {
	at   float64
	sign string
	fail bool
}

// worst is the moment that a close-up is about, and its episode.
type worst struct {
	at, from, to float64
	label        string
	// onset is when it began, told by begun; there is none where begun is empty.
	onset float64
	begun string
}

// draw returns the panel as SVG.
func (p panel) draw(width float64) string {
	inner := width - leftMargin - rightMargin
	plot := span{from: p.from, to: p.to, stepS: p.stepS, width: inner}
	lines := make([][]bucket, len(p.lines))
	for i, l := range p.lines {
		lines[i] = plot.buckets(l.column)
	}
	axis := p.scale(plot, lines)
	y := func(v float64) float64 {
		return float64((axis.hi - float64(v*p.factor)) / (axis.hi - axis.lo) * p.height)
	}

	legend := p.legend(width)
	top := float64(legend.rows)*rowHeight + 4
	if len(p.flags) > 0 || p.worst != nil {
		top += rowHeight
	}
	bottom := top + p.height
	var d drawing
	d.openPlot(width, bottom+timeAxisHeight(p.start, p.from, p.to), p.describe(lines), plot, p.shows())
	legend.draw(&d, p.unit)

	// Flags lie under the data: a spike of one pixel is often what they mark.
	drawFlags(&d, p.flags, plot, top, bottom, p.drawWorst(&d, plot, top, bottom)...)

	d.field(leftMargin, top, inner, p.height, fmt.Sprintf(` data-lo="%s" data-hi="%s"`, exact(axis.lo/p.factor), exact(axis.hi/p.factor)))
	p.drawGround(&d, plot, axis, y)
	areas, _, _ := plot.stacked(columnsOf(p.stack), y)
	for i, data := range areas {
		d.traced("fill "+p.stack[i].class, data, p.stack[i].source("pile"))
	}
	for i, l := range p.lines {
		if l.column.Min != nil {
			d.traced("span "+l.class, envelope(lines[i], y), l.source("span"))
		}
	}
	for _, l := range p.limits {
		p.drawLimit(&d, l, plot, lines, y)
	}
	for i, l := range p.lines {
		d.traced(p.stroke(i), stroke(lines[i], y), l.source("line"))
	}
	d.unclip()
	p.drawLimitLabels(&d, leftMargin+inner, top, y)

	for _, tick := range axis.ticks {
		d.text("e", leftMargin-6, top+y(tick/p.factor)+4, axis.label(tick))
	}
	drawTimeAxis(&d, plot, p.start, top, bottom)
	d.close()
	return d.String()
}

// scale fits the value axis to what the span shows.
func (p panel) scale(plot span, lines [][]bucket) scale {
	lo, hi := p.lo, p.hi
	for _, line := range lines {
		for _, b := range line {
			if b.known {
				lo, hi = math.Min(lo, b.min), math.Max(hi, b.max)
			}
		}
	}
	if len(p.stack) > 0 {
		_, down, up := plot.stacked(columnsOf(p.stack), nil)
		lo, hi = math.Min(lo, down), math.Max(hi, up)
	}
	for _, l := range p.limits {
		lo, hi = math.Min(lo, l.at), math.Max(hi, l.at)
	}
	return newScale(lo*p.factor, hi*p.factor, int(p.height/30))
}

// drawGround draws what lies under the data: wanted windows, forbidden
// ground beyond the limits, and the grid.
func (p panel) drawGround(d *drawing, plot span, axis scale, y func(float64) float64) {
	for _, w := range p.wanted {
		if from, to := math.Max(w.FromS, p.from), math.Min(w.ToS, p.to); to > from {
			d.rect("wanted", plot.x(from), 0, plot.x(to)-plot.x(from), p.height)
		}
	}
	if p.worst != nil && p.worst.to > p.worst.from {
		from, to := math.Max(p.worst.from, p.from), math.Min(p.worst.to, p.to)
		d.rect("episode", plot.x(from), 0, math.Max(plot.x(to)-plot.x(from), 1), p.height)
	}
	for _, l := range p.limits {
		top, height := p.beyondLimit(l, y)
		d.rect("forbidden", 0, top, plot.width, height)
	}
	for _, tick := range axis.ticks {
		class := "grid"
		if tick == 0 {
			class = "zero"
		}
		d.line(class, 0, y(tick/p.factor), plot.width, y(tick/p.factor))
	}
	ticks, _ := timeTicks(plot.from, plot.to, tickLimit(plot))
	for _, t := range ticks {
		d.line("grid tock", plot.x(t), 0, plot.x(t), p.height)
	}
}

// beyondLimit returns the strip of the plot on the wrong side of the limit.
func (p panel) beyondLimit(l limit, y func(float64) float64) (top, height float64) {
	level := math.Min(math.Max(y(l.at), 0), p.height)
	if l.side == verdict.AtLeast {
		return level, p.height - level
	}
	return 0, level
}

// drawLimit draws a limit and what the first line, which it judges, did
// beyond it: the area is cut off at the limit itself, so that it begins and
// ends where the line crosses, between two rows as well.
func (p panel) drawLimit(d *drawing, l limit, plot span, lines [][]bucket, y func(float64) float64) {
	if len(lines) > 0 && !p.overlaid {
		top, height := p.beyondLimit(l, y)
		data := beyond(lines[0], l.at, l.side == verdict.AtMost, func(v float64) float64 { return y(v) - top })
		if data != "" {
			d.clip(0, top, plot.width, height)
			d.traced("over", data, fmt.Sprintf(` data-draw="over" data-column="%d" data-level="%s" data-top="%s"`,
				p.lines[0].column.index, exact(l.at), number(top)))
			d.unclip()
		}
	}
	d.line("limit", 0, y(l.at), plot.width, y(l.at))
}

// drawLimitLabels writes each limit on its forbidden side, where the data
// should not be, or on the other side where there is no room.
func (p panel) drawLimitLabels(d *drawing, right, top float64, y func(float64) float64) {
	for _, l := range p.limits {
		at := y(l.at)
		over, under := at-5, at+13
		if l.side == verdict.AtLeast {
			over, under = under, over
		}
		if over < 11 || over > p.height-3 {
			over = under
		}
		d.text("e tag", right-4, top+over, clipped(l.label, right-leftMargin-8))
	}
}

// drawWorst draws the moment that the close-up is about, and returns the
// place of its label.
func (p panel) drawWorst(d *drawing, plot span, top, bottom float64) []place {
	if p.worst == nil {
		return nil
	}
	worst := p.drawMoment(d, plot, "moment", p.worst.at, p.worst.label, top, bottom)
	taken := []place{worst}
	if p.worst.begun == "" {
		return taken
	}
	label := p.worst.begun
	if own := labelPlace(plot, p.worst.onset, label); own.to > worst.from && own.from < worst.to {
		label = "" // The worst moment's label has that place.
	}
	return append(taken, p.drawMoment(d, plot, "onset", p.worst.onset, label, top, bottom))
}

// drawMoment draws a line across the plot with its label above, and returns the label's place.
func (p panel) drawMoment(d *drawing, plot span, class string, at float64, label string, top, bottom float64) place {
	x := leftMargin + plot.x(at)
	d.at(at)
	d.line(class, x, top, x, bottom)
	d.path("pointer", fmt.Sprintf("M%s %sl-5 -7h10z", number(x), number(top)))
	own := labelPlace(plot, at, label)
	if label != "" {
		d.text("m bad", (own.from+own.to)/2, top-10, label)
	}
	d.ungroup()
	return own
}

// labelPlace is where a moment's label stands: over the moment, but inside the plot.
func labelPlace(plot span, at float64, label string) place {
	half := textWidth(label) / 2
	middle := math.Min(math.Max(leftMargin+plot.x(at), leftMargin+half), leftMargin+plot.width-half)
	return place{middle - half - 4, middle + half + 4}
}

// describe says in words what the plot shows.
func (p panel) describe(lines [][]bucket) string {
	text := fmt.Sprintf("%s, %s to %s", p.name, verdict.Moment(p.from), verdict.Moment(p.to))
	for i, line := range lines {
		lo, hi := math.Inf(1), math.Inf(-1)
		for _, b := range line {
			if b.known {
				lo, hi = math.Min(lo, b.min), math.Max(hi, b.max)
			}
		}
		if lo <= hi {
			text += fmt.Sprintf("; %s between %s and %s", p.lines[i].column.Label,
				verdict.Quantity(verdict.Of(lo*p.factor), p.unit), verdict.Quantity(verdict.Of(hi*p.factor), p.unit))
		}
	}
	return text
}

func columnsOf(inks []ink) []Column {
	columns := make([]Column, len(inks))
	for i, k := range inks {
		columns[i] = k.column
	}
	return columns
}

package report

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"kilter/suites/verdict"
)

// lanes draws what the controller commanded: a lane for each register, a
// tick for each write, and the value as a step line with its figures.
type lanes struct {
	from, to float64
	start    time.Time
	flags    []flag
	lanes    []lane
}

type lane struct {
	index    int // among the lanes of the whole run
	name     string
	commands []Mark
}

// lanesOf sorts the commands into lanes, in the order in which the registers
// were first written. Writes outside the span stay out, except that the last
// one before it still holds.
func lanesOf(marks []Mark, from, to float64) []lane {
	var all []lane
	index := map[string]int{}
	for _, m := range marks {
		if m.Kind != Command || m.AtS > to {
			continue
		}
		if !plottable(m.Value) {
			m.Value = math.NaN()
		}
		name := m.Lane
		if name == "" {
			name = "commands"
		}
		i, known := index[name]
		if !known {
			i = len(all)
			index[name] = i
			all = append(all, lane{index: i, name: name})
		}
		l := &all[i]
		if n := len(l.commands); n > 0 && m.AtS < from && l.commands[n-1].AtS < from {
			l.commands[n-1] = m
			continue
		}
		l.commands = append(l.commands, m)
	}
	return all
}

const traceHeight = 22 // Of the step line between a lane's text and its ticks.

func (l lane) height() float64 {
	if l.words() {
		return 2*rowHeight + 10
	}
	return 2*rowHeight + traceHeight + 12
}

func (p lanes) draw(width float64) string {
	inner := width - leftMargin - rightMargin
	plot := span{from: p.from, to: p.to, stepS: 1, width: inner}
	top := 4.0
	if len(p.flags) > 0 {
		top += rowHeight
	}
	bottom := top
	for _, l := range p.lanes {
		bottom += l.height()
	}
	var d drawing
	d.openPlot(width, bottom+timeAxisHeight(p.start, p.from, p.to), fmt.Sprintf("Commands in %d registers, %s to %s",
		len(p.lanes), verdict.Moment(p.from), verdict.Moment(p.to)), plot, ` data-lanes="`+laneIndexes(p.lanes)+`"`)
	drawTimeGrid(&d, plot, top, bottom)
	drawFlags(&d, p.flags, plot, top, bottom)
	at := top
	for _, l := range p.lanes {
		l.draw(&d, plot, at)
		at += l.height()
	}
	drawTimeAxis(&d, plot, p.start, top, bottom)
	d.close()
	return d.String()
}

func laneIndexes(all []lane) string {
	text := make([]string, len(all))
	for i, l := range all {
		text[i] = strconv.Itoa(l.index)
	}
	return strings.Join(text, " ")
}

func (l lane) draw(d *drawing, plot span, top float64) {
	height := l.height()
	base := top + height
	d.line("frame", leftMargin, base, leftMargin+plot.width, base)
	count := 0
	for _, c := range l.commands {
		if c.AtS >= plot.from {
			count++
		}
	}
	writes := fmt.Sprintf("%d writes", count)
	switch count {
	case 0:
		writes = "written earlier"
	case 1:
		writes = "1 write"
	}
	d.text("tag", leftMargin+4, top+13, clipped(l.name+" ("+writes+")", plot.width-8))

	lo, hi := math.Inf(1), math.Inf(-1)
	for _, c := range l.commands {
		if !math.IsNaN(c.Value) {
			lo, hi = math.Min(lo, c.Value), math.Max(hi, c.Value)
		}
	}
	level := func(v float64) float64 { // The values lie between two rows of text.
		if !(hi > lo) {
			return base - 8 - traceHeight/2
		}
		return base - 8 - float64((v-lo)/(hi-lo)*traceHeight)
	}
	if hi > lo {
		unit := l.commands[0].Unit
		d.text("e", leftMargin-6, level(hi)+4, clipped(Minus(verdict.Quantity(verdict.Of(hi), unit)), leftMargin+4))
		d.text("e", leftMargin-6, level(lo)+4, clipped(Minus(verdict.Quantity(verdict.Of(lo), unit)), leftMargin+4))
	}
	d.field(leftMargin, top, plot.width, height, fmt.Sprintf(` data-lane="%d" data-lo="%s" data-hi="%s" data-bottom="%s" data-top="%s"`,
		l.index, exact(lo), exact(hi), number(level(lo)-top), number(level(hi)-top)))
	var held, ticked trail
	for i := 0; i < len(l.commands); {
		// Writes closer than a pixel share a tick and a vertical stroke.
		x := math.Max(plot.x(l.commands[i].AtS), -1)
		low, high := math.Inf(1), math.Inf(-1)
		first, last := l.commands[i].Value, l.commands[i].Value
		for pixel := math.Floor(x); i < len(l.commands) && math.Floor(math.Max(plot.x(l.commands[i].AtS), -1)) == pixel; i++ {
			last = l.commands[i].Value
			low, high = math.Min(low, last), math.Max(high, last)
		}
		ticked.lift()
		ticked.to(x, height)
		ticked.to(x, height-6)
		if math.IsNaN(low) { // A value that is no number has no level.
			held.lift()
			continue
		}
		if held.down {
			held.to(x, held.height())
		}
		for _, v := range [4]float64{first, low, high, last} {
			held.to(x, level(v)-top)
		}
	}
	if held.down {
		held.to(plot.width, held.height())
	}
	d.traced("held", held.data(), ` data-draw="held"`)
	d.traced("tick", ticked.data(), fmt.Sprintf(` data-draw="tick" data-height="%s"`, number(height)))
	d.unclip()
	l.figures(d, plot, top+2*rowHeight-4)
}

// figures writes a value at the moment when it came, if it held long enough
// for its text to stand clear: where values change faster, any choice of
// them would mislead, and the step line with its range says it better.
func (l lane) figures(d *drawing, plot span, y float64) {
	for i := 0; i < len(l.commands); {
		text, at := l.commands[i].valueText(), l.commands[i].AtS
		from := math.Max(plot.x(l.commands[i].AtS), 0) + 2
		for i < len(l.commands) && l.commands[i].valueText() == text {
			i++
		}
		to, until := plot.width, plot.to
		if i < len(l.commands) {
			to, until = plot.x(l.commands[i].AtS), l.commands[i].AtS
		}
		switch room := to - from - 4; {
		case textWidth(text) <= room:
			d.during(max(at, plot.from), until)
			d.text("tag", leftMargin+from, y, text)
			d.ungroup()
		case l.words() && room > 4*textSize:
			d.during(max(at, plot.from), until)
			d.text("tag", leftMargin+from, y, clipped(text, room))
			d.ungroup()
		}
	}
}

// words says that the lane's values are words and not figures: a word may be
// cut short, a figure never.
func (l lane) words() bool { return l.commands[0].Label != "" && math.IsNaN(l.commands[0].Value) }

func (m Mark) valueText() string {
	if m.Label != "" || math.IsNaN(m.Value) {
		return m.Label
	}
	return Minus(verdict.Quantity(verdict.Of(m.Value), m.Unit))
}

// sign returns the number of the i-th happening.
func sign(i int) string { return strconv.Itoa(i + 1) }

// letter returns the letter of the i-th failure: A to Z, then A2 and on.
func letter(i int) string {
	text := string(rune('A' + i%26))
	if i >= 26 {
		text += strconv.Itoa(i/26 + 1)
	}
	return text
}

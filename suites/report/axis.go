package report

import (
	"math"
	"time"
)

// tickLimit returns how many time labels the width holds without crowding.
func tickLimit(plot span) int { return max(2, int(plot.width/68)) }

// timeAxisHeight returns the height of the label rows: elapsed, local clock
// where a start is known, and the date where the span crosses midnight.
func timeAxisHeight(start time.Time, from, to float64) float64 {
	switch {
	case start.IsZero():
		return 6 + rowHeight
	case !sameDay(start, from, to):
		return 6 + 3*rowHeight
	}
	return 6 + 2*rowHeight
}

// drawTimeGrid draws the upright lines behind lanes, in a field of their own so that they stretch.
func drawTimeGrid(d *drawing, plot span, top, bottom float64) {
	d.field(leftMargin, top, plot.width, bottom-top, "")
	ticks, _ := timeTicks(plot.from, plot.to, tickLimit(plot))
	for _, t := range ticks {
		d.line("grid tock", plot.x(t), 0, plot.x(t), bottom-top)
	}
	d.unclip()
}

func sameDay(start time.Time, from, to float64) bool {
	return localAt(start, from).Format(time.DateOnly) == localAt(start, to).Format(time.DateOnly)
}

// drawTimeAxis draws the frame and the labels of time under a plot, elapsed
// time above local time.
func drawTimeAxis(d *drawing, plot span, start time.Time, top, bottom float64) {
	d.line("frame", leftMargin, top, leftMargin, bottom)
	d.line("frame", leftMargin, bottom, leftMargin+plot.width, bottom)
	ticks, step := timeTicks(plot.from, plot.to, tickLimit(plot))
	unit, label := elapsed(step, plot.to)
	row := bottom + rowHeight
	d.group("times")
	defer d.ungroup()
	d.text("e dim", leftMargin-6, row, unit)
	clock := !start.IsZero()
	if clock {
		d.text("e dim", leftMargin-6, row+rowHeight, "local")
	}
	clear, date := math.Inf(-1), ""
	for i, t := range ticks {
		x := leftMargin + plot.x(t)
		d.line("frame", x, bottom, x, bottom+4)
		local := ""
		width := textWidth(label(t))
		if clock {
			local = localLabel(start, t, step)
			width = math.Max(width, textWidth(local))
		}
		// The outermost labels shift inwards rather than leave the picture or
		// run into the row's unit.
		x = math.Max(leftMargin+width/2, math.Min(x, leftMargin+plot.width+rightMargin-width/2))
		if x-width/2 < clear {
			continue
		}
		// Where the first would push out the second, it goes: gaps inside a
		// row of labels read as a change of scale.
		if i == 0 && len(ticks) > 1 && x+width+6 > leftMargin+plot.x(ticks[1]) {
			continue
		}
		clear = x + width/2 + 6
		d.text("m", x, row, label(t))
		if !clock {
			continue
		}
		d.text("m", x, row+rowHeight, local)
		if sameDay(start, plot.from, plot.to) {
			continue
		}
		if day := localAt(start, t).Format("2 Jan"); day != date {
			d.text("m", x, row+2*rowHeight, day)
			date = day
		}
	}
}

// drawFlags draws a line across the plot for each flag and its sign above.
// Failures come first and win the room, after what the caller has reserved;
// flags too close to tell apart share a sign, "4–5" or "B,C".
func drawFlags(d *drawing, flags []flag, plot span, top, bottom float64, reserved ...place) {
	taken := reserved
	for _, fails := range []bool{true, false} {
		signs := signsOf(flags, fails, plot)
		for _, s := range signs {
			half := textWidth(s.text)/2 + 1
			free := true
			for _, p := range taken {
				free = free && (s.x+half < p.from || s.x-half > p.to)
			}
			if !free {
				continue
			}
			class := "m"
			if fails {
				class = "m bad"
			}
			d.at(s.at)
			d.text(class, s.x, top-6, s.text)
			d.ungroup()
			taken = append(taken, place{s.x - half, s.x + half})
		}
	}
	for _, f := range flags {
		if f.at < plot.from || f.at > plot.to {
			continue
		}
		class, x := "event", leftMargin+plot.x(f.at)
		if f.fail {
			class = "moment"
		}
		d.at(f.at)
		d.line(class, x, top-3, x, bottom)
		d.ungroup()
	}
}

// place is a stretch of a row that text occupies.
type place struct{ from, to float64 }

type groupedSign struct {
	at, x, right float64
	text, first  string
}

func signsOf(flags []flag, fails bool, plot span) []groupedSign {
	var all []groupedSign
	for _, f := range flags {
		if f.fail != fails || f.at < plot.from || f.at > plot.to {
			continue
		}
		x := leftMargin + plot.x(f.at)
		half := textWidth(f.sign)/2 + 2
		if n := len(all); n > 0 && x-half < all[n-1].right {
			last := &all[n-1]
			last.text = last.first + "–" + f.sign
			if fails { // Letters follow the scenario, not the clock.
				last.first += "," + f.sign
				last.text = last.first
			}
			last.right = math.Max(last.x+textWidth(last.text)/2, x) + 2
			continue
		}
		all = append(all, groupedSign{at: f.at, x: x, right: x + half, text: f.sign, first: f.sign})
	}
	return all
}

// legend is the key to a plot's colours, in rows that fit the width.
type legend struct {
	entries []entry
	rows    int
}

type entry struct {
	x, y  float64
	class string
	area  bool
	label string
}

const swatch = 20

// legend lays out the key: lines, piles, then the shaded windows.
func (p panel) legend(width float64) legend {
	l := legend{rows: 1}
	x, right := float64(leftMargin), width-rightMargin
	add := func(class, label string, area bool) {
		label = clipped(label, right-leftMargin-swatch-6)
		need := swatch + 6 + textWidth(label) + 14
		if x > leftMargin && x+need-14 > right {
			x = leftMargin
			l.rows++
		}
		l.entries = append(l.entries, entry{x: x, y: float64(l.rows) * rowHeight, class: class, area: area, label: label})
		x += need
	}
	for i, k := range p.lines {
		add(p.stroke(i), k.column.Label, false)
	}
	for _, k := range p.stack {
		add("fill "+k.class, k.column.Label, true)
	}
	seen := map[string]bool{}
	for _, w := range p.wanted {
		label := w.Label
		if label == "" {
			label = "import wanted"
		}
		if w.ToS > p.from && w.FromS < p.to && !seen[label] {
			seen[label] = true
			add("wanted", label, true)
		}
	}
	return l
}

func (l legend) draw(d *drawing, unit string) {
	d.text("e dim", leftMargin-6, rowHeight-4, clipped(unit, leftMargin-6))
	for _, e := range l.entries {
		if e.area {
			d.rect(e.class, e.x, e.y-13, swatch, 10)
		} else {
			d.line(e.class, e.x, e.y-8, e.x+swatch, e.y-8)
		}
		d.text("", e.x+swatch+6, e.y-4, e.label)
	}
}

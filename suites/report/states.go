package report

import (
	"fmt"
	"math"
	"time"

	"kilter/suites/verdict"
)

// StateLane is a thing that is in one of a few states, told by a word: an inverter's mode, a link.
type StateLane struct {
	Name  string      `json:"name"`
	Spans []StateSpan `json:"spans"`
}

// StateSpan is a state and its time. A sick state is drawn as what it is.
type StateSpan struct {
	FromS float64 `json:"from"`
	ToS   float64 `json:"to"`
	Word  string  `json:"word"`
	Sick  bool    `json:"sick,omitempty"`
}

// states draws lanes of states: a bar for each state, with its word where there is room.
type states struct {
	from, to float64
	start    time.Time
	flags    []flag
	lanes    []StateLane
}

const stateHeight = 2*rowHeight + 6

func (p states) draw(width float64) string {
	plot := span{from: p.from, to: p.to, stepS: 1, width: width - leftMargin - rightMargin}
	top := 4.0
	if len(p.flags) > 0 {
		top += rowHeight
	}
	bottom := top + stateHeight*float64(len(p.lanes))
	var d drawing
	d.openPlot(width, bottom+timeAxisHeight(p.start, p.from, p.to), fmt.Sprintf("States of %d things, %s to %s",
		len(p.lanes), verdict.Moment(p.from), verdict.Moment(p.to)), plot, ` data-states="all"`)
	drawTimeGrid(&d, plot, top, bottom)
	drawFlags(&d, p.flags, plot, top, bottom)
	for i, l := range p.lanes {
		l.draw(&d, plot, top+stateHeight*float64(i))
	}
	drawTimeAxis(&d, plot, p.start, top, bottom)
	d.close()
	return d.String()
}

// hatches tell neighbouring states apart without a colour: each word keeps one.
var hatches = []string{"plainly", "half", "faint", "full"}

func (l StateLane) draw(d *drawing, plot span, top float64) {
	d.line("frame", leftMargin, top+stateHeight, leftMargin+plot.width, top+stateHeight)
	d.text("tag", leftMargin+4, top+13, clipped(l.Name, plot.width-8))
	d.field(leftMargin, top+rowHeight+1, plot.width, rowHeight, "")
	look := map[string]string{}
	for _, s := range l.Spans {
		if look[s.Word] == "" {
			look[s.Word] = hatches[len(look)%len(hatches)]
		}
		from, to := math.Max(s.FromS, plot.from), math.Min(s.ToS, plot.to)
		if to <= from {
			continue
		}
		class := "state " + look[s.Word]
		if s.Sick {
			class = "state sick"
		}
		d.rect(class, plot.x(from), 1, math.Max(plot.x(to)-plot.x(from), 0.6), rowHeight-2)
	}
	d.unclip()
	for _, s := range l.Spans {
		from, to := math.Max(s.FromS, plot.from), math.Min(s.ToS, plot.to)
		room := plot.x(to) - plot.x(from) - 6
		if to <= from || textWidth(s.Word) > room && room < 4*textSize {
			continue
		}
		d.during(from, to)
		d.text("tag", leftMargin+plot.x(from)+3, top+2*rowHeight-3, clipped(s.Word, room))
		d.ungroup()
	}
}

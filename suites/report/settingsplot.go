package report

import (
	"fmt"
	"math"
	"slices"
)

// lots are lines of shares under one another, over one scale.
type lots []Lot

const (
	lotHeight = 30.0
	dotRadius = 3.0
)

// draw puts each line's name above it, so that long names fit a narrow column.
func (l lots) draw(width float64) string {
	low, high := 0.0, 0.0
	for _, lot := range l {
		for _, v := range lot.Shares {
			low, high = math.Min(low, v), math.Max(high, v)
		}
	}
	inner := width - 2*rightMargin
	axis := newScale(low, high, max(2, int(inner/68)))
	x := func(v float64) float64 { return rightMargin + (v-axis.lo)/(axis.hi-axis.lo)*inner }
	bottom := float64(len(l)) * (lotHeight + rowHeight)
	var d drawing
	d.open(width, bottom+2*rowHeight, "least shares of runs, by line")
	if axis.lo < 0 {
		d.rect("forbidden", x(axis.lo), 0, x(0)-x(axis.lo), bottom)
	}
	for _, t := range axis.ticks {
		d.line("grid", x(t), 0, x(t), bottom)
		d.text("m", x(t), bottom+rowHeight, axis.label(t))
	}
	d.line("zero", x(0), 0, x(0), bottom)
	for i, lot := range l {
		top := float64(i) * (lotHeight + rowHeight)
		y := top + rowHeight + lotHeight/2
		d.text("tag", rightMargin, top+rowHeight-4, clipped(fmt.Sprintf("%s (%d)", lot.Name, len(lot.Shares)), inner))
		d.line("grid", rightMargin, y, rightMargin+inner, y)
		for _, v := range lot.Shares {
			d.ring("sideA", x(v), y, dotRadius)
		}
		if len(lot.Shares) > 0 {
			least := slices.Min(lot.Shares)
			class := "held broad"
			if least < 0 {
				class = "moment broad"
			}
			d.line(class, x(least), y-lotHeight/2+4, x(least), y+lotHeight/2-4)
		}
	}
	d.text("m dim", rightMargin+inner/2, bottom+2*rowHeight-3, "share of the limit")
	d.close()
	return d.String()
}

// cloudHeight is the height of a plot of two goals, without its labels.
const cloudHeight = 300.0

func (c Cloud) draw(width float64) string {
	lowX, highX, lowY, highY := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	for _, p := range c.Dots {
		lowX, highX = math.Min(lowX, p.X), math.Max(highX, p.X)
		lowY, highY = math.Min(lowY, p.Y), math.Max(highY, p.Y)
	}
	inner := width - leftMargin - rightMargin
	axisX, axisY := newScale(lowX, highX, max(2, int(inner/68))), newScale(lowY, highY, 6)
	x := func(v float64) float64 { return leftMargin + (v-axisX.lo)/(axisX.hi-axisX.lo)*inner }
	y := func(v float64) float64 { return rowHeight + 4 + (axisY.hi-v)/(axisY.hi-axisY.lo)*cloudHeight }
	top, bottom := y(axisY.hi), y(axisY.lo)
	var d drawing
	d.open(width, bottom+2*rowHeight+4, c.Y+" against "+c.X)
	for _, t := range axisX.ticks {
		d.line("grid", x(t), top, x(t), bottom)
		d.text("m", x(t), bottom+rowHeight, axisX.label(t))
	}
	for _, t := range axisY.ticks {
		d.line("grid", leftMargin, y(t), leftMargin+inner, y(t))
		d.text("e", leftMargin-6, y(t)+4, axisY.label(t))
	}
	d.line("frame", leftMargin, top, leftMargin, bottom)
	d.line("frame", leftMargin, bottom, leftMargin+inner, bottom)
	d.text("dim", 2, rowHeight-5, clipped(c.Y, width))
	d.text("e dim", leftMargin+inner, bottom+2*rowHeight, clipped(c.X, inner))
	seen := map[[2]string]bool{} // many settings may come to the same
	for _, p := range c.Dots {
		at := [2]string{number(x(p.X)), number(y(p.Y))}
		if seen[at] {
			continue
		}
		seen[at] = true
		d.group("dot")
		fmt.Fprintf(&d, "<title>%s</title>", escaped(p.Tip))
		if p.Passed {
			d.ring("sideA", x(p.X), y(p.Y), dotRadius)
		} else {
			d.cross("moment", x(p.X), y(p.Y), dotRadius)
		}
		d.ungroup()
	}
	var line trail
	for _, i := range c.Front {
		line.to(x(c.Dots[i].X), y(c.Dots[i].Y))
	}
	d.path("held", line.data())
	if c.Chosen >= 0 {
		p := c.Dots[c.Chosen]
		d.rect("chosen", x(p.X)-6, y(p.Y)-6, 12, 12)
	}
	d.close()
	return d.String()
}

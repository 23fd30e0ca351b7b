package report

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
)

// Diagram draws a site as the trade's single-line diagram: from the supply down where the column is wide,
// and as a tree from left to right where it is narrow. A live one has places for values and for the direction
// of each flow, which the panel's script fills in.
func Diagram(site Wiring, live bool) (wideSVG, narrowSVG string) {
	top := oneline{live: live}
	w := top.columns(site)
	if w <= mostColumns {
		wideSVG = top.hanging(site, w)
	}
	side := oneline{live: live}
	narrowSVG = side.lying(site, narrow)
	if wideSVG == "" {
		lying := oneline{live: live}
		wideSVG = lying.lying(site, wide)
	}
	return wideSVG, narrowSVG
}

const (
	columnWidth = 98
	mostColumns = 14
	meterRoom   = 34 // of one meter along a conductor
)

type oneline struct {
	drawing
	live  bool
	notes drawing // text that may lie across a conductor; it comes last, with a halo
}

// parts sorts what stands in a feeder: the meters that clasp it, signals, and what hangs from it.
func parts(w Wiring) (meters, signals, hang []Wiring) {
	for _, x := range w.Within {
		switch x.Kind {
		case "meter":
			meters = append(meters, x)
		case "tariff":
			signals = append(signals, x)
		default:
			hang = append(hang, x)
		}
	}
	return meters, signals, hang
}

func (o *oneline) columns(w Wiring) int {
	if w.Kind != "feeder" && w.Kind != "supply" {
		return 1
	}
	n := 0
	_, _, hang := parts(w)
	for _, x := range hang {
		n += o.columns(x)
	}
	return max(n, 1)
}

// hanging draws the diagram from the top down.
func (o *oneline) hanging(site Wiring, columns int) string {
	width := math.Max(float64(columns)*columnWidth+20, 420)
	var body oneline
	body.live = o.live
	middle := width / 2
	meters, signals, _ := parts(site)
	y := 18.0
	body.put("supply", middle, y)
	body.label(middle+22, y, site, true)
	y += 13
	body.line("wire", middle, y, middle, y+8)
	y += 18
	body.fuse(site, middle, y)
	y += 10
	for i, s := range signals {
		body.put("tariff", width-110-90*float64(i), 26)
		body.label(width-100-90*float64(i), 26, s, true)
	}
	bottom := body.feeder(site, meters, 10, float64(columns)*columnWidth, middle, y)
	o.open(width, bottom+6, "Single-line diagram of the site "+site.Name)
	o.WriteString(body.String() + body.notes.String())
	o.close()
	return o.String()
}

// fuse draws the main fuse, or the conductor where there is none.
func (o *oneline) fuse(site Wiring, x, y float64) {
	if site.Symbol == "no fuse" {
		o.line("wire", x, y-10, x, y+10)
		return
	}
	o.put("fuse", x, y)
}

// feeder draws a conductor from y on with its meters, its bar, and what hangs from that, within the width from
// left on; it returns how far down that reaches.
func (o *oneline) feeder(w Wiring, meters []Wiring, left, width, x, y float64) float64 {
	for _, m := range meters {
		o.line("wire", x, y, x, y+meterRoom)
		o.putMeter(x, y+meterRoom/2, m.Reversed)
		o.label(x+44, y+meterRoom/2, m, false)
		y += meterRoom
	}
	_, _, hang := parts(w)
	o.line("wire", x, y, x, y+12)
	y += 12
	if len(hang) == 0 {
		return y
	}
	place := left
	first, last, bottom := math.Inf(1), math.Inf(-1), y
	total := 0
	for _, c := range hang {
		total += o.columns(c)
	}
	each := width / float64(total)
	for _, c := range hang {
		room := each * float64(o.columns(c))
		at := place + room/2
		first, last = math.Min(first, at), math.Max(last, at)
		bottom = math.Max(bottom, o.branch(c, place, room, at, y))
		place += room
	}
	first, last = math.Min(first, x), math.Max(last, x)
	if len(hang) > 1 || first != last {
		o.line("busbar", first-8, y, last+8, y)
	}
	return bottom
}

// branch draws what hangs from a bar.
func (o *oneline) branch(w Wiring, left, width, x, y float64) float64 {
	if w.Kind == "feeder" {
		o.line("wire", x, y, x, y+10)
		o.put("breaker", x, y+20)
		o.text("tag", x+10, y+24, clipped(plain(w.Name), columnWidth-14))
		meters, _, _ := parts(w)
		o.line("wire", x, y+30, x, y+40)
		return o.feeder(w, meters, left, width, x, y+40)
	}
	o.line("wire", x, y, x, y+26)
	o.flow(w, x, y+13, "")
	g := o.put(o.symbol(w), x, y+41)
	at := y + 41 + g.below + 16
	o.text("m", x, at, clipped(plain(w.Name), width-4))
	if o.live {
		at += 15
		o.value("m", x, at, w)
		if w.Kind == "inverter" {
			at += 15
			o.charge("m", x, at, w)
		}
	}
	if o.live {
		at += 13
		o.word("m", x, at, w)
	} else {
		for _, line := range wrapped(w.Detail, width-6) {
			at += 13
			o.text("m tiny dim", x, at, line)
		}
	}
	for _, pv := range w.Within { // on the DC side
		at += 13
		o.text("m tiny dim", x, at, clipped("with "+plain(pv.Name), width-6))
	}
	return at + 6
}

func (o *oneline) symbol(w Wiring) string {
	if _, known := glyphs[w.Symbol]; known {
		return w.Symbol
	}
	if _, known := glyphs[w.Kind]; known {
		return w.Kind
	}
	return "load"
}

// label writes a name and what is to say about it beside a symbol.
func (o *oneline) label(x, y float64, w Wiring, detail bool) {
	o.notes.text("tag", x, y-1, plain(w.Name))
	switch {
	case o.live:
		o.notes.value("tag", x, y+13, w)
	case detail || w.Kind == "meter":
		o.notes.text("tiny dim tag", x, y+12, w.Detail)
	}
}

// value is the place of a live figure.
func (d *drawing) value(class string, x, y float64, w Wiring) {
	fmt.Fprintf(d, `<text class="value %s" x="%s" y="%s" data-value="%s">–</text>`, class, number(x), number(y), escaped(w.Name))
}

// flow is the place of an arrow that shows which way a device's power goes.
func (o *oneline) flow(w Wiring, x, y float64, turned string) {
	if !o.live {
		return
	}
	for _, way := range [][2]string{{"in", "M-5 -4h10l-5 9z"}, {"out", "M-5 5h10l-5 -9z"}} {
		fmt.Fprintf(o, `<path class="flow" d="%s" transform="translate(%s %s)%s" data-flow="%s" data-way="%s"/>`,
			way[1], number(x), number(y), turned, escaped(w.Name), way[0])
	}
}

// charge is the place of a battery's state of charge.
func (d *drawing) charge(class string, x, y float64, w Wiring) {
	fmt.Fprintf(d, `<text class="%s" x="%s" y="%s" data-charge="%s"></text>`, class, number(x), number(y), escaped(w.Name))
}

// word is the place of what a device is in.
func (d *drawing) word(class string, x, y float64, w Wiring) {
	fmt.Fprintf(d, `<text class="tiny dim %s" x="%s" y="%s" data-word="%s"></text>`, class, number(x), number(y), escaped(w.Name))
}

// plain is a name as people read it.
func plain(name string) string { return strings.ReplaceAll(name, "_", " ") }

// wrapped breaks a text at its commas and blanks into lines that fit.
func wrapped(text string, width float64) []string {
	var lines []string
	line := ""
	for _, word := range strings.Fields(text) {
		longer := strings.TrimSpace(line + " " + word)
		if line != "" && textWidth(longer)*11/textSize > width {
			lines = append(lines, line)
			longer = word
		}
		line = longer
	}
	if line != "" {
		lines = append(lines, line)
	}
	for i := range lines {
		lines[i] = clipped(lines[i], width*textSize/11)
	}
	return lines
}

// lying draws the diagram as a tree that grows to the right, one row for each thing.
func (o *oneline) lying(site Wiring, width float64) string {
	var body oneline
	body.live = o.live
	bottom := body.row(site, 22, 20, width)
	_, signals, _ := parts(site)
	for _, s := range signals {
		body.put("tariff", 22, bottom+24)
		body.label(46, bottom+24, s, true)
		bottom += 46
	}
	o.open(width, bottom+6, "Single-line diagram of the site "+site.Name)
	o.WriteString(body.String() + body.notes.String())
	o.close()
	return o.String()
}

// row draws a thing at the top of its conductor, which runs down from there, and what hangs from it to the right.
func (o *oneline) row(w Wiring, x, y, width float64) float64 {
	const step, indent = 46.0, 30.0
	if w.Kind == "supply" {
		o.put("supply", x, y)
		o.label(x+24, y, w, true)
		y += 13
		o.line("wire", x, y, x, y+8)
		o.fuse(w, x, y+18)
		y += 28
	}
	meters, _, hang := parts(w)
	for _, m := range meters {
		o.line("wire", x, y, x, y+meterRoom)
		o.putMeter(x, y+meterRoom/2, m.Reversed)
		o.label(x+46, y+meterRoom/2, m, true)
		y += meterRoom
	}
	// What is shortest comes first, so that few conductors cross.
	hang = slices.Clone(hang)
	slices.SortStableFunc(hang, func(a, b Wiring) int { return cmp.Compare(order(a), order(b)) })
	from, last := y, y
	for _, c := range hang {
		at := y + step/2
		last = at
		if c.Kind == "feeder" {
			o.line("wire", x, at, x+8, at)
			fmt.Fprintf(o, `<g transform="translate(%s %s) rotate(-90)">`, number(x+18), number(at))
			o.put("breaker", 0, 0)
			o.ungroup()
			o.line("wire", x+28, at, x+indent, at)
			o.line("wire", x+indent, at, x+indent, at+10)
			o.text("tag", x+indent+8, at+2, clipped(plain(c.Name), width-x-indent-12))
			y = o.row(c, x+indent, at+10, width)
			continue
		}
		o.line("wire", x, at, x+14, at)
		o.flow(c, x+9, at, " rotate(-90)")
		o.put(o.symbol(c), x+30, at)
		text := clipped(plain(c.Name), width-x-60)
		o.text("tag", x+54, at-1, text)
		if o.live {
			o.value("", x+54, at+14, c)
			if c.Kind == "inverter" {
				o.charge("", x+134, at+14, c)
			}
			o.word("e", width-8, at-1, c)
		} else {
			o.text("tiny dim tag", x+54, at+13, clipped(c.Detail, (width-x-60)*textSize/11))
		}
		y += step + math.Max(0, glyphs[o.symbol(c)].below-20)
	}
	o.line("busbar", x, from, x, last)
	return y
}

func order(w Wiring) int {
	if w.Kind == "feeder" {
		return 1
	}
	return 0
}

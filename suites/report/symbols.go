package report

import "fmt"

// The symbols are those of IEC 60617, "Graphical symbols for diagrams", as an electrician draws them in a
// single-line diagram, each around its own origin and about 30 units high. Each is path data, and text
// where the symbol has a letter.
type glyph struct {
	path, filled, letter string
	below                float64 // how far it reaches down
}

var glyphs = map[string]glyph{
	// An AC source.
	"supply": {path: "M-13 0a13 13 0 1 0 26 0a13 13 0 1 0 -26 0M-7 0c2 -7 5 -7 7 0s5 7 7 0", below: 13},
	// A fuse: the line runs through it.
	"fuse": {path: "M-4 -10h8v20h-8zM0 -10v20", below: 10},
	// A circuit breaker: a contact with a cross.
	"breaker": {path: "M-3 -13l6 6m0 -6l-6 6M0 10l-8 -17", below: 10},
	// A converter between AC above and DC below, with a battery.
	"inverter": {path: "M-15 -15h30v30h-30zM15 -15l-30 30M-11 -6c1.5 -4 3.5 -4 5 0s3.5 4 5 0M2 6h9m-9 4h9M0 15v6M-11 21h22M0 26v4", filled: "M-6 24.5h12v3h-12z", below: 30},
	// A converter with a photovoltaic generator.
	"array": {path: "M-15 -15h30v30h-30zM15 -15l-30 30M-11 -6c1.5 -4 3.5 -4 5 0s3.5 4 5 0M2 6h9m-9 4h9M0 15v4M-13 19h26v11h-26zM-13 19l13 7l13 -7", below: 30},
	// A load of any kind, a heating element, a motor.
	"load":   {path: "M0 -15v20", filled: "M-6 5h12l-6 11z", below: 16},
	"heater": {path: "M-7 -15h14v30h-14zM-7 -7.5h14M-7 0h14M-7 7.5h14", below: 15},
	"motor":  {path: "M-14 0a14 14 0 1 0 28 0a14 14 0 1 0 -28 0", letter: "M", below: 14},
	// A charging point: a socket outlet in its case.
	"charger": {path: "M-15 -15h30v30h-30zM0 -15v11M-8 4a8 8 0 0 1 16 0M-8 -4h16", below: 15},
	// A contact that somebody else works.
	"tariff": {path: "M0 -15v7m0 16v7M0 8l-8 -15", below: 15},
}

// put draws a symbol at a place.
func (d *drawing) put(name string, x, y float64) glyph {
	g := glyphs[name]
	fmt.Fprintf(d, `<g class="symbol" transform="translate(%s %s)">`, number(x), number(y))
	d.path("", g.path)
	d.path("solid", g.filled)
	if g.letter != "" {
		d.text("m", 0, 4.5, g.letter)
	}
	d.ungroup()
	return g
}

// putMeter draws a current transformer around the conductor at a place, what reads it, and an arrow that
// points the way which it counts as positive.
func (d *drawing) putMeter(x, y float64, reversed bool) {
	fmt.Fprintf(d, `<g class="symbol" transform="translate(%s %s)">`, number(x), number(y))
	d.path("", "M-7 0a7 7 0 1 0 14 0a7 7 0 1 0 -14 0M7 0h11M10 3l3 -6m1 6l3 -6M18 -9h20v18h-20zM18 -4h20")
	d.text("m tiny", 28, 6, "Wh")
	way := "M-16 -8v10"
	tip := "M-19.5 2h7l-3.5 7z"
	if reversed {
		way, tip = "M-16 8v-10", "M-19.5 -2h7l-3.5 -7z"
	}
	d.path("", way)
	d.path("solid", tip)
	d.ungroup()
}

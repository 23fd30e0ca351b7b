package atlas

import (
	"bytes"
	"fmt"
	"image/color"
	"math"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgsvg"
)

// The colours that tell curves apart to colour-blind eyes too. Source: M. Okabe, K. Ito, Color
// universal design, 2002. The plot is drawn in these and in two greys; the page's style sheet then
// gives each its value for light, dark and paper.
var hues = [...]color.RGBA{
	{0x00, 0x72, 0xB2, 0xFF}, // blue
	{0xD5, 0x5E, 0x00, 0xFF}, // vermillion
	{0x00, 0x9E, 0x73, 0xFF}, // bluish green
	{0xCC, 0x79, 0xA7, 0xFF}, // reddish purple
	{0xE6, 0x9F, 0x00, 0xFF}, // orange
	{0x56, 0xB4, 0xE9, 0xFF}, // sky blue
}

var (
	ink   = color.RGBA{0x10, 0x10, 0x10, 0xFF}
	faint = color.RGBA{0xDD, 0xDD, 0xDD, 0xFF}
	paper = color.RGBA{0xFE, 0xFE, 0xFE, 0xFF}
)

const (
	panelWidth   = 440.0
	panelHeight  = 300.0 // of the only panel
	stackHeight  = 212.0 // of each of several
	tickSize     = 12.0
	labelSize    = 13.0
	pointIDSize  = 11.0
	lineWidth    = 1.8
	dashOn       = 6.0
	dashOff      = 3.5
	pointRadius  = 3.6
	headHeight   = 21.0 // room for the vertical axis' label above the panel
	rightMargin  = 14.0 // room for half of the last tick's label
	axisFraction = 0.05 // of the range, left free at each end of an axis that fits what is drawn
)

// sans is the font of a size. Readers without it see one of equal widths.
func sans(size float64) font.Font {
	return font.Font{Typeface: "Liberation", Variant: "Sans", Size: vg.Length(size)}
}

// svg draws a panel with the points that belong to it.
func (p Panel) svg(height float64, label string, points []Check) (string, error) {
	plt := plot.New()
	plt.BackgroundColor = nil // the page shows through
	plt.Add(&plotter.Grid{Vertical: thin(faint), Horizontal: thin(faint)})
	if len(p.Bars) > 0 {
		bars, err := plotter.NewBarChart(plotter.Values(p.Bars), p.barWidth())
		if err != nil {
			return "", fmt.Errorf("atlas: %w", err)
		}
		bars.Color, bars.LineStyle.Width = hues[0], 0
		plt.Add(bars)
	}
	for _, c := range p.Curves {
		for _, piece := range c.pieces(p.X.Log, p.Y.Log) {
			l, err := plotter.NewLine(piece)
			if err != nil {
				return "", fmt.Errorf("atlas: %w", err)
			}
			l.LineStyle = draw.LineStyle{Color: hues[c.Hue%len(hues)], Width: lineWidth}
			if c.Dashed {
				l.Dashes = []vg.Length{dashOn, dashOff}
			}
			plt.Add(l)
		}
	}
	plt.Add(dots{points}, ids{panel: p, points: points})

	p.X.fit(&plt.X, p, points, true) // after the curves, which widen the ranges of a plot that they join
	p.Y.fit(&plt.Y, p, points, false)

	canvas := vgsvg.New(panelWidth, vg.Length(height))
	sheet := draw.New(canvas)
	plt.Draw(draw.Crop(sheet, 0, -rightMargin, 0, -headHeight))
	head := plt.X.Label.TextStyle
	head.XAlign, head.YAlign = draw.XLeft, draw.YTop
	sheet.FillText(head, vg.Point{X: 0, Y: sheet.Max.Y - 1}, p.Y.Label)
	var out bytes.Buffer
	if _, err := canvas.WriteTo(&out); err != nil {
		return "", fmt.Errorf("atlas: %w", err)
	}
	return inlined(out.String(), height, label), nil
}

// barWidth leaves a gap of about a third between bars.
func (p Panel) barWidth() vg.Length { return vg.Length(0.6 * panelWidth / float64(len(p.Bars)+1)) }

func thin(c color.Color) draw.LineStyle { return draw.LineStyle{Color: c, Width: 0.7} }

func style(a *plot.Axis) {
	a.Label.TextStyle.Font, a.Label.TextStyle.Color = sans(labelSize), ink
	a.Tick.Label.Font, a.Tick.Label.Color = sans(tickSize), ink
	a.LineStyle, a.Tick.LineStyle = thin(ink), thin(ink)
	a.Label.Padding = 4
	a.Padding = 0
	a.Tick.Length = 4
}

// fit gives a plot's axis its range, label and ticks.
func (a Axis) fit(to *plot.Axis, p Panel, points []Check, horizontal bool) {
	style(to)
	if horizontal {
		to.Label.Text = a.Label // that of Y stands above the panel, where it needs no turned head
	}
	to.Tick.Marker = evenTicks{most: 7}
	if !horizontal {
		to.Tick.Marker = evenTicks{most: 6}
	}
	low, high := a.Min, a.Max
	if low == high {
		low, high = math.Inf(1), math.Inf(-1)
		take := func(v float64) {
			if finite(v) && !(a.Log && v <= 0) {
				low, high = min(low, v), max(high, v)
			}
		}
		for _, c := range p.Curves {
			values := c.Y
			if horizontal {
				values = c.X
			}
			for _, v := range values {
				take(v)
			}
		}
		for _, v := range p.Bars {
			if !horizontal {
				take(v)
				take(0)
			}
		}
		for _, c := range points {
			if horizontal {
				take(c.X)
			} else {
				take(c.Y)
			}
		}
		if a.Log {
			margin := math.Pow(high/low, axisFraction)
			low, high = low/margin, high*margin
		} else {
			margin := (high - low) * axisFraction
			low, high = low-margin, high+margin
		}
	}
	to.Min, to.Max = low, high
	if n := len(a.Names); n > 0 {
		to.Min, to.Max = -0.5, float64(n)-0.5
		to.Tick.Length = 0
		to.Tick.Marker = names(a.Names)
	}
	if a.Log {
		to.Scale = plot.LogScale{}
		to.Tick.Marker = logTicks{}
	}
}

// pieces are the stretches of a curve that its axes can show.
func (c Curve) pieces(logX, logY bool) []plotter.XYs {
	var all []plotter.XYs
	var piece plotter.XYs
	end := func() {
		if len(piece) > 1 {
			all = append(all, piece)
		}
		piece = nil
	}
	for i := range c.X {
		if x, y := c.X[i], c.Y[i]; finite(x) && finite(y) && !(logX && x <= 0) && !(logY && y <= 0) {
			piece = append(piece, plotter.XY{X: x, Y: y})
		} else {
			end()
		}
	}
	end()
	return all
}

// inlined turns a drawing into a part of the page: without a prologue and a fixed size, and with the
// style sheet's colours and font in place of its own.
func inlined(svg string, height float64, label string) string {
	if at := strings.Index(svg, "<g "); at >= 0 {
		svg = svg[at:]
	}
	pairs := []string{
		"font-family:Liberation Sans;font-variant:normal;font-weight:normal;font-style:normal;", "",
		hex(ink), "var(--ink)", hex(faint), "var(--grid)", hex(paper), "var(--page)",
	}
	for i, h := range hues {
		pairs = append(pairs, hex(h), fmt.Sprintf("var(--c%d)", i))
	}
	return fmt.Sprintf(`<svg viewBox="0 0 %g %g" role="img" aria-label="%s">`, panelWidth, height, escape(label)) +
		strings.NewReplacer(pairs...).Replace(svg)
}

func hex(c color.RGBA) string { return fmt.Sprintf("#%02X%02X%02X", c.R, c.G, c.B) }

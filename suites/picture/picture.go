// Package picture draws columns of a trace as a PNG or an SVG, for a message or a paper: one panel for each unit, one
// above the other, on one time axis.
package picture

import (
	"fmt"
	"image/color"
	"io"
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgsvg"

	"kilter/suites/verdict"
)

// Line is one column.
type Line struct {
	Name      string
	Unit      string
	Values    []float64
	Low, High []float64 // the extremes within each row, or nil
}

// Limit is a level that a line must stay under or over.
type Limit struct {
	Line  string
	At    float64
	Label string
}

// Picture is what to draw.
type Picture struct {
	Title        string
	TimesS       []float64
	FromS, ToS   float64
	Lines        []Line
	Limits       []Limit
	Width, Panel float64 // in points of 1/72 inch
}

// The colours are those of M. Okabe and K. Ito, "Color Universal Design", 2002; vermilion is kept for limits.
var hues = []color.RGBA{
	{0x00, 0x72, 0xB2, 0xFF}, {0xE6, 0x9F, 0x00, 0xFF}, {0x00, 0x9E, 0x73, 0xFF}, {0xCC, 0x79, 0xA7, 0xFF}, {0x56, 0xB4, 0xE9, 0xFF}, {0x10, 0x10, 0x10, 0xFF},
}

var (
	vermilion = color.RGBA{0xD5, 0x5E, 0x00, 0xFF}
	ink       = color.RGBA{0x10, 0x10, 0x10, 0xFF}
	faint     = color.RGBA{0xDD, 0xDD, 0xDD, 0xFF}
)

// Write draws in the format png or svg. Equal pictures give equal bytes.
func (p Picture) Write(w io.Writer, format string) error {
	panels, err := p.panels()
	if err != nil {
		return err
	}
	width, height := vg.Length(p.Width), vg.Length(p.Panel*float64(len(panels))+26)
	var canvas vg.CanvasWriterTo
	switch format {
	case "png":
		canvas = vgimg.PngCanvas{Canvas: vgimg.NewWith(vgimg.UseWH(width, height), vgimg.UseDPI(144))}
	case "svg":
		canvas = vgsvg.New(width, height)
	default:
		return fmt.Errorf("format %q: must be png or svg", format)
	}
	sheet := draw.New(canvas)
	if format == "svg" { // the other is white by itself
		sheet.FillPolygon(color.White, sheet.ClipPolygonXY([]vg.Point{{}, {X: width}, {X: width, Y: height}, {Y: height}}))
	}
	style := draw.TextStyle{Color: ink, Font: sans(13), XAlign: draw.XLeft, YAlign: draw.YTop, Handler: plot.DefaultTextHandler}
	sheet.FillText(style, vg.Point{X: 8, Y: height - 6}, p.Title)
	rows := make([][]*plot.Plot, len(panels))
	for i, x := range panels {
		rows[i] = []*plot.Plot{x}
	}
	area := draw.Crop(sheet, 4, -14, 4, -26)
	for i, row := range plot.Align(rows, draw.Tiles{Rows: len(rows), Cols: 1, PadY: 6}, area) {
		panels[i].Draw(row[0])
	}
	_, err = canvas.WriteTo(w)
	return err
}

// panels makes one plot for each unit, in the order in which the units come up.
func (p Picture) panels() ([]*plot.Plot, error) {
	var units []string
	byUnit := map[string][]int{}
	for i, l := range p.Lines {
		if byUnit[l.Unit] == nil {
			units = append(units, l.Unit)
		}
		byUnit[l.Unit] = append(byUnit[l.Unit], i)
	}
	var all []*plot.Plot
	for _, unit := range units {
		x, err := p.panel(unit, byUnit[unit])
		if err != nil {
			return nil, err
		}
		all = append(all, x)
	}
	all[len(all)-1].X.Label.Text = "time since the start [h:min:s]"
	return all, nil
}

func (p Picture) panel(unit string, lines []int) (*plot.Plot, error) {
	plt := plot.New()
	for _, a := range []*plot.Axis{&plt.X, &plt.Y} {
		a.Label.TextStyle.Font, a.Tick.Label.Font = sans(11), sans(11)
		a.LineStyle, a.Tick.LineStyle = thin(ink), thin(ink)
		a.Padding = 0
	}
	factor, name := p.scale(unit, lines)
	plt.Y.Label.Text = name
	plt.X.Min, plt.X.Max = p.FromS, p.ToS
	plt.X.Tick.Marker = moments{}
	plt.Legend.Top, plt.Legend.Left = true, true
	plt.Legend.TextStyle.Font = sans(11)
	plt.Legend.ThumbnailWidth = 18
	plt.Add(&plotter.Grid{Vertical: thin(faint), Horizontal: thin(faint)})
	lo, hi := math.Inf(1), math.Inf(-1)
	see := func(v float64) { lo, hi = math.Min(lo, v), math.Max(hi, v) }
	for _, i := range lines {
		l := p.Lines[i]
		hue := hues[i%len(hues)]
		if l.Low != nil && l.High != nil {
			if err := p.band(plt, l, factor, hue, see); err != nil {
				return nil, err
			}
		}
		line, err := plotter.NewLine(p.points(l.Values, factor, see))
		if err != nil {
			return nil, fmt.Errorf("picture: %s: %w", l.Name, err)
		}
		line.LineStyle = draw.LineStyle{Color: hue, Width: 1.4}
		if i >= len(hues) {
			line.Dashes = []vg.Length{6, 3}
		}
		plt.Add(line)
		plt.Legend.Add(l.Name, line)
	}
	for _, limit := range p.Limits {
		for _, i := range lines {
			if p.Lines[i].Name != limit.Line {
				continue
			}
			at := float64(limit.At * factor)
			see(at)
			line, err := plotter.NewLine(plotter.XYs{{X: p.FromS, Y: at}, {X: p.ToS, Y: at}})
			if err != nil {
				return nil, fmt.Errorf("picture: %s: %w", limit.Label, err)
			}
			line.LineStyle = draw.LineStyle{Color: vermilion, Width: 1.4, Dashes: []vg.Length{8, 4}}
			plt.Add(line)
			plt.Legend.Add(limit.Label, line)
		}
	}
	if !(hi-lo > 1e-9) {
		lo, hi = lo-1, hi+1
	}
	// The legend stands above the data.
	plt.Y.Min, plt.Y.Max = lo-0.05*(hi-lo), hi+(0.08+0.09*float64(len(lines)+len(p.Limits)))*(hi-lo)
	return plt, nil
}

// band shades between the extremes within each row.
func (p Picture) band(plt *plot.Plot, l Line, factor float64, hue color.RGBA, see func(float64)) error {
	outline := p.points(l.Low, factor, see)
	high := p.points(l.High, factor, see)
	for i := len(high) - 1; i >= 0; i-- {
		outline = append(outline, high[i])
	}
	area, err := plotter.NewPolygon(outline)
	if err != nil {
		return fmt.Errorf("picture: %s: %w", l.Name, err)
	}
	area.Color = color.NRGBA{hue.R, hue.G, hue.B, 0x40}
	area.LineStyle.Width = 0
	plt.Add(area)
	return nil
}

// points are those within the span, and the neighbours at either side.
func (p Picture) points(values []float64, factor float64, see func(float64)) plotter.XYs {
	var all plotter.XYs
	for i, t := range p.TimesS {
		if i+1 < len(p.TimesS) && p.TimesS[i+1] < p.FromS || i > 0 && p.TimesS[i-1] > p.ToS {
			continue
		}
		v := float64(values[i] * factor)
		see(v)
		all = append(all, plotter.XY{X: math.Min(math.Max(t, p.FromS), p.ToS), Y: v})
	}
	return all
}

// scale chooses kilo units where the figures are large, and per cent for a state of charge.
func (p Picture) scale(unit string, lines []int) (factor float64, name string) {
	switch unit {
	case "":
		return 1, "state"
	case "%":
		return 100, "state of charge [%]"
	}
	peak := 0.0
	for _, i := range lines {
		for _, v := range p.Lines[i].Values {
			peak = math.Max(peak, math.Abs(v))
		}
	}
	if unit == "W" && peak >= 2000 {
		return 1e-3, "power [kW]"
	}
	return 1, map[string]string{"W": "power [W]", "V": "voltage [V]"}[unit]
}

// moments are ticks at round times.
type moments struct{}

var steps = []float64{0.1, 0.5, 1, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 21600, 43200, 86400}

// Ticks is what a plot asks for.
func (moments) Ticks(from, to float64) []plot.Tick {
	step := steps[len(steps)-1]
	for _, s := range steps {
		if (to-from)/s <= 9 {
			step = s
			break
		}
	}
	var all []plot.Tick
	for t := math.Ceil(from/step-1e-9) * step; t <= to+1e-9; t += step {
		all = append(all, plot.Tick{Value: t, Label: verdict.Moment(math.Round(t*10) / 10)})
	}
	return all
}

func sans(size float64) font.Font {
	return font.Font{Typeface: "Liberation", Variant: "Sans", Size: vg.Length(size)}
}

func thin(c color.Color) draw.LineStyle { return draw.LineStyle{Color: c, Width: 0.7} }

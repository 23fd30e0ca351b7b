package atlas

import (
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// dots draws the published values, a shape for each mark: full, hollow, square, or a cross for what
// is from memory.
type dots struct{ points []Check }

// Plot implements plot.Plotter.
func (d dots) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	for _, point := range d.points {
		at := vg.Point{X: x(point.X), Y: y(point.Y)}
		glyph := func(shape draw.GlyphDrawer, colour bool, radius vg.Length) {
			s := draw.GlyphStyle{Color: ink, Radius: radius, Shape: shape}
			if !colour {
				s.Color = paper
			}
			c.DrawGlyph(s, at)
		}
		switch point.Mark {
		case Published:
			glyph(draw.CircleGlyph{}, false, pointRadius+1)
			glyph(draw.CircleGlyph{}, true, pointRadius)
		case Recomputed:
			glyph(draw.CircleGlyph{}, true, pointRadius+0.4)
			glyph(draw.CircleGlyph{}, false, pointRadius-0.8)
		case ByHand:
			glyph(draw.BoxGlyph{}, true, pointRadius+0.2)
			glyph(draw.BoxGlyph{}, false, pointRadius-0.9)
		case FromMemory:
			const arm = pointRadius
			bold := draw.LineStyle{Color: ink, Width: 1.2}
			c.StrokeLine2(bold, at.X-arm, at.Y-arm, at.X+arm, at.Y+arm)
			c.StrokeLine2(bold, at.X-arm, at.Y+arm, at.X+arm, at.Y-arm)
		}
	}
}

// ids writes the points' ids beside them, each where it hides least.
type ids struct {
	panel  Panel
	points []Check
}

// nearPx is how finely curves are looked at when an id seeks its place.
const nearPx = 3.0

// sameIDPx is how close points of one id may share it.
const sameIDPx = 45.0

// widerFont is what an id may need more room in a reader's other font.
const widerFont = 1.12

// Plot implements plot.Plotter.
func (l ids) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	text := p.X.Tick.Label
	text.Font, text.Color, text.XAlign, text.YAlign = sans(pointIDSize), ink, draw.XCenter, draw.YCenter

	var busy []vg.Point // what a label should not cover
	for _, curve := range l.panel.Curves {
		for _, piece := range curve.pieces(l.panel.X.Log, l.panel.Y.Log) {
			for i := range len(piece) - 1 {
				a, b := vg.Point{X: x(piece[i].X), Y: y(piece[i].Y)}, vg.Point{X: x(piece[i+1].X), Y: y(piece[i+1].Y)}
				n := min(int(math.Hypot(float64(b.X-a.X), float64(b.Y-a.Y))/nearPx)+1, 500)
				for k := range n {
					share := vg.Length(float64(k) / float64(n))
					busy = append(busy, vg.Point{X: a.X + (b.X-a.X)*share, Y: a.Y + (b.Y-a.Y)*share})
				}
			}
		}
	}
	for i, height := range l.panel.Bars {
		low, high := min(y(0), y(height)), max(y(0), y(height))
		for bx := x(float64(i)) - l.panel.barWidth()/2; bx <= x(float64(i))+l.panel.barWidth()/2; bx += nearPx {
			for by := low; by <= high; by += nearPx {
				busy = append(busy, vg.Point{X: bx, Y: by})
			}
		}
	}
	var taken []vg.Rectangle
	for _, point := range l.points {
		at := vg.Point{X: x(point.X), Y: y(point.Y)}
		taken = append(taken, around(at, 2*pointRadius, 2*pointRadius))
	}
	placed := map[string]vg.Point{}
	for _, point := range l.points {
		if point.Silent {
			continue
		}
		at := vg.Point{X: x(point.X), Y: y(point.Y)}
		if was, again := placed[point.ID]; again && math.Hypot(float64(at.X-was.X), float64(at.Y-was.Y)) < sameIDPx {
			continue // its neighbour carries the same id
		}
		width, height := text.Width(point.ID)*widerFont, text.Height(point.ID)
		best, cost := at, math.Inf(1)
		for _, away := range []vg.Length{0, 8, 18} {
			for _, toward := range []vg.Point{{X: 1}, {X: -1}, {Y: 1}, {Y: -1}, {X: 0.9, Y: 0.9}, {X: -0.9, Y: 0.9}, {X: 0.9, Y: -0.9}, {X: -0.9, Y: -0.9}} {
				centre := vg.Point{X: at.X + toward.X*(width/2+pointRadius+3+away), Y: at.Y + toward.Y*(height/2+pointRadius+2+away)}
				box := around(centre, width, height)
				if box.Min.X < c.Min.X || box.Max.X > c.Max.X || box.Min.Y < c.Min.Y || box.Max.Y > c.Max.Y {
					continue
				}
				sum := float64(away) / 4
				for _, t := range taken {
					if overlap(box, t) {
						sum += 100
					}
				}
				for _, b := range busy {
					if b.X > box.Min.X && b.X < box.Max.X && b.Y > box.Min.Y && b.Y < box.Max.Y {
						sum += 2
					}
				}
				if sum < cost {
					best, cost = centre, sum
				}
			}
		}
		if cost >= 100 {
			continue // it would cover another; the table under the picture has it
		}
		placed[point.ID] = at
		taken = append(taken, around(best, width, height))
		if box := around(best, width, height); far(at, box) > 3*pointRadius {
			c.StrokeLine2(draw.LineStyle{Color: ink, Width: 0.5}, at.X, at.Y, clamp(at.X, box.Min.X, box.Max.X), clamp(at.Y, box.Min.Y, box.Max.Y))
		}
		c.FillText(text, best, point.ID)
	}
}

func around(centre vg.Point, width, height vg.Length) vg.Rectangle {
	return vg.Rectangle{Min: vg.Point{X: centre.X - width/2, Y: centre.Y - height/2}, Max: vg.Point{X: centre.X + width/2, Y: centre.Y + height/2}}
}

func overlap(a, b vg.Rectangle) bool {
	return a.Min.X < b.Max.X && b.Min.X < a.Max.X && a.Min.Y < b.Max.Y && b.Min.Y < a.Max.Y
}

// far is the distance of a point from a box.
func far(p vg.Point, box vg.Rectangle) vg.Length {
	return vg.Length(math.Hypot(float64(p.X-clamp(p.X, box.Min.X, box.Max.X)), float64(p.Y-clamp(p.Y, box.Min.Y, box.Max.Y))))
}

func clamp(v, low, high vg.Length) vg.Length { return min(max(v, low), high) }

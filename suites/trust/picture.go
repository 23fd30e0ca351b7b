package trust

import (
	"image/color"
	"io"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgsvg"

	"kilter/suites/criteria"
)

// picture draws what hunting measured against the truth: the amplitude over the
// spectral radius of each case in which both mean something.
func (s *Study) picture(w io.Writer) error {
	p := plot.New()
	p.Title.Text = "What hunting measures, and what is true"
	p.X.Label.Text = "spectral radius per poll"
	p.Y.Label.Text = "largest amplitude in quiet times, W"
	p.Y.Scale, p.Y.Tick.Marker = plot.LogScale{}, plot.LogTicks{Prec: 0}
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = 0, mostRadius, leastW, 100_000

	p.Add(plotter.NewGrid())
	// The colours are told apart by colour-blind eyes too (M. Okabe, K. Ito, Color
	// universal design, 2002), and the shapes without any.
	stable, unstable := s.points(Stable), s.points(Unstable)
	for _, kind := range []struct {
		name   string
		points plotter.XYs
		glyph  draw.GlyphStyle
	}{
		{"stable", stable, draw.GlyphStyle{Color: color.RGBA{0x00, 0x72, 0xB2, 0xFF}, Radius: vg.Points(1.6), Shape: draw.RingGlyph{}}},
		{"unstable", unstable, draw.GlyphStyle{Color: color.RGBA{0xD5, 0x5E, 0x00, 0xFF}, Radius: vg.Points(2), Shape: draw.PlusGlyph{}}},
	} {
		if len(kind.points) == 0 {
			continue
		}
		dots, err := plotter.NewScatter(kind.points)
		if err != nil {
			return err
		}
		dots.GlyphStyle = kind.glyph
		p.Add(dots)
		p.Legend.Add(kind.name, dots)
	}
	bound, err := plotter.NewLine(plotter.XYs{{X: 0, Y: huntingW}, {X: mostRadius, Y: huntingW}})
	if err != nil {
		return err
	}
	bound.Dashes = []vg.Length{vg.Points(5), vg.Points(3)}
	p.Add(bound)
	p.Legend.Add("the bound", bound)
	p.Legend.Left, p.Legend.Top = true, true

	canvas := vgsvg.New(16*vg.Centimeter, 11*vg.Centimeter)
	p.Draw(draw.New(canvas))
	_, err = canvas.WriteTo(w)
	return err
}

const (
	mostRadius = 2.0
	leastW     = 10.0
)

// points are those of one kind, kept within the picture.
func (s *Study) points(kind Kind) (list plotter.XYs) {
	for _, o := range s.Outcomes {
		r := o.result("hunting")
		if o.Case.Kind != kind || r == nil || !r.Valid || r.Status == criteria.NotExercised || kind == Unstable && !o.Counted() {
			continue
		}
		list = append(list, plotter.XY{X: min(o.Case.Radius, mostRadius), Y: max(r.Observed, leastW)})
	}
	return list
}

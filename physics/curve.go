package physics

import (
	"fmt"
	"math"
)

// Point is one corner of a Curve.
type Point struct{ X, Y float64 }

// Curve is a piecewise-linear function: straight between its points, and flat
// before the first and after the last. Two points may share an X where the function
// jumps (its value there is that of the later point) or has a mere corner.
// Its methods are total on a curve that Check accepts, and allocate nothing.
type Curve []Point

// Check says what is wrong with a curve, or nil.
func (c Curve) Check() error {
	if len(c) == 0 {
		return fmt.Errorf("a curve needs at least one point")
	}
	for i, p := range c {
		if math.IsNaN(p.X) || math.IsInf(p.X, 0) || math.IsNaN(p.Y) || math.IsInf(p.Y, 0) {
			return fmt.Errorf("point %d of the curve is (%g, %g); both must be finite", i+1, p.X, p.Y)
		}
		if i > 0 && p.X < c[i-1].X {
			return fmt.Errorf("point %d of the curve is at %g, before point %d at %g; points go from left to right", i+1, p.X, i, c[i-1].X)
		}
	}
	return nil
}

// At is the value at x. It meets every point exactly.
func (c Curve) At(x float64) float64 {
	n := len(c)
	if x < c[0].X {
		return c[0].Y
	}
	if x >= c[n-1].X {
		return c[n-1].Y
	}
	i := c.segment(x)
	a, b := &c[i], &c[i+1]
	return a.Y + float64((b.Y-a.Y)*((x-a.X)/(b.X-a.X)))
}

// segment is the last i with c[i].X <= x < c[i+1].X; x lies within the curve.
func (c Curve) segment(x float64) int {
	lo, hi := 0, len(c)-1
	for hi-lo > 1 {
		if mid := (lo + hi) / 2; c[mid].X <= x {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}

// SlopeAfter is the slope just right of x; 0 outside the points.
func (c Curve) SlopeAfter(x float64) float64 {
	if x < c[0].X || x >= c[len(c)-1].X {
		return 0
	}
	i := c.segment(x)
	return (c[i+1].Y - c[i].Y) / (c[i+1].X - c[i].X)
}

// SlopeBefore is the slope just left of x; 0 outside the points.
func (c Curve) SlopeBefore(x float64) float64 {
	if x <= c[0].X || x > c[len(c)-1].X {
		return 0
	}
	// The first point at or right of x ends the segment.
	i := 1
	for c[i].X < x {
		i++
	}
	return (c[i].Y - c[i-1].Y) / (c[i].X - c[i-1].X)
}

// Integral is the integral of the curve from a to b, exactly (trapezoids between corners);
// negative where b < a.
func (c Curve) Integral(a, b float64) float64 {
	if b < a {
		return -c.Integral(b, a)
	}
	area, x, y := 0.0, a, c.At(a)
	for _, p := range c {
		if p.X > x && p.X < b {
			// A jump at p.X contributes nothing: the left value closes the trapezoid.
			left := c.before(p.X)
			area += float64((y + left) / 2 * (p.X - x))
			x, y = p.X, c.At(p.X)
		}
	}
	return area + float64((y+c.before(b))/2*(b-x))
}

// before is the limit of the curve from the left at x.
func (c Curve) before(x float64) float64 {
	if x <= c[0].X {
		return c[0].Y
	}
	for i := 1; i < len(c); i++ {
		if c[i].X >= x {
			a, b := &c[i-1], &c[i]
			return a.Y + float64((b.Y-a.Y)*((x-a.X)/(b.X-a.X)))
		}
	}
	return c[len(c)-1].Y
}

// bisect returns the x in [lo, hi] at which holds changes from true (at lo) to false, to the
// last bit: it halves until the middle is one of the ends.
func bisect(lo, hi float64, holds func(x float64) bool) float64 {
	for {
		mid := lo + float64((hi-lo)/2)
		if mid <= lo || mid >= hi {
			return lo
		}
		if holds(mid) {
			lo = mid
		} else {
			hi = mid
		}
	}
}

package sweep

import (
	"fmt"
	"math/rand/v2"

	"kilter/suites/search"
)

// Design is how points are chosen.
type Design string

// The designs: all combinations, a Latin hypercube, or the first points of a Sobol sequence.
const (
	Grid  Design = "grid"
	Latin Design = "latin"
	Sobol Design = "sobol"
)

// Designs are all of them.
var Designs = []Design{Grid, Latin, Sobol}

// mostPoints bounds a design.
const mostPoints = 1_000_000

// Point is one setting of all knobs: a value for each, in their order.
type Point []string

// Points are those that a design tries. n is how many a hypercube or a sequence has; a grid takes 0. They come in the same order
// each time.
func Points(d Design, knobs []*Knob, n int) ([]Point, error) {
	for _, k := range knobs {
		switch {
		case d == Grid && k.Values == nil:
			return nil, fmt.Errorf("%s: a grid needs to know how many values, as in %[1]s=%s:%s:5", k.Name, k.write(k.low, k.decimals), k.write(k.high, k.decimals))
		case d != Grid && k.isRange && k.Values != nil:
			return nil, fmt.Errorf("%s: a %s design draws from the whole range; leave the count of values away", k.Name, d)
		}
	}
	if d == Grid {
		return grid(knobs)
	}
	if n < 2 || n > mostPoints {
		return nil, fmt.Errorf("a %s design of %d points: must be from 2 to %d", d, n, mostPoints)
	}
	var cube [][]float64
	switch d {
	case Latin:
		cube = search.LatinHypercube(rand.New(rand.NewPCG(1, 1)), n, len(knobs))
	case Sobol:
		var err error
		if cube, err = sobol(n, len(knobs)); err != nil {
			return nil, err
		}
	default:
		return nil, fmt.Errorf("the design %q: must be grid, latin or sobol", d)
	}
	points := make([]Point, n)
	for i, x := range cube {
		for k, knob := range knobs {
			points[i] = append(points[i], knob.at(x[k]))
		}
	}
	return points, nil
}

// grid is every combination, the last knob changing fastest.
func grid(knobs []*Knob) ([]Point, error) {
	count := 1
	for _, k := range knobs {
		if count *= len(k.Values); count > mostPoints {
			return nil, fmt.Errorf("the grid has more than %d points; take fewer values, or a latin or sobol design", mostPoints)
		}
	}
	points := make([]Point, count)
	for i := range points {
		points[i] = make(Point, len(knobs))
		rest := i
		for k := len(knobs) - 1; k >= 0; k-- {
			values := knobs[k].Values
			points[i][k] = values[rest%len(values)]
			rest /= len(values)
		}
	}
	return points, nil
}

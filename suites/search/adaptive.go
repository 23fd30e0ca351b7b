package search

import (
	"cmp"
	"context"
	"math"
	"slices"
)

// Adaptive searches by CMA-ES (N. Hansen, The CMA evolution strategy: a tutorial, arXiv:1604.00772) with
// restarts: it looks around evenly, follows the best point found, and when it has come to rest without a counterexample
// begins anew from the next best with a population twice as large (A. Auger, N. Hansen, A restart CMA
// evolution strategy with increasing population size, CEC 2005).
func Adaptive(ctx context.Context, evaluate Evaluate, opt Options) (Result, error) {
	s, err := begin(ctx, evaluate, opt)
	if err != nil {
		return Result{}, err
	}
	over, err := s.first()
	if over || err != nil {
		return s.Result, err
	}
	starts, over, err := s.lookAround()
	for k, population := 0, 0; !over && err == nil; k++ {
		if k > 0 {
			s.Restarts++
			population = 2 * max(population, 4+int(3*math.Log(float64(s.Dim))))
		}
		mean := s.even(1)[0]
		if k < len(starts) {
			mean = starts[k]
		}
		over, err = s.climb(mean, min(population, mostPopulation))
	}
	return s.Result, err
}

const (
	// spread is how far around its beginning a climb looks at first: it must reach most of the cube.
	spread = 0.25
	// stagnant is after how many generations without progress a climb is given up.
	stagnant = 12
	// mostPopulation bounds a generation, and so how far a batch can go beyond the first counterexample.
	mostPopulation = 64
)

// lookAround tries a few points spread over the cube, and returns them best first. What breaks something is mostly extreme in several
// ways at once, which even draws seldom are: so of the first points nearly all coordinates are moved to the nearer end of their
// ranges, of later ones fewer, and of the last none (boundary values, as testers of software have long begun with).
func (s *state) lookAround() (starts [][]float64, over bool, err error) {
	points := LatinHypercube(s.chance, 4+2*s.Dim, s.Dim)
	for i, x := range points {
		atEnds := 1 - float64(i)/float64(len(points))
		for k, v := range x {
			if s.chance.Float64() < atEnds {
				x[k] = math.Round(v)
			}
		}
	}
	margins, over, err := s.try(points)
	if over || err != nil {
		return nil, over, err
	}
	order := make([]int, len(points))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(ranked(margins[a]), ranked(margins[b])) })
	for _, i := range order {
		starts = append(starts, points[i])
	}
	return starts, false, nil
}

// ranked puts what cannot be judged last.
func ranked(margin float64) float64 {
	if math.IsNaN(margin) {
		return math.Inf(1)
	}
	return margin
}

// climb follows one distribution until it has come to rest, or leads nowhere.
func (s *state) climb(mean []float64, population int) (over bool, err error) {
	e := newEvolution(mean, spread, population, s.chance)
	best, since := math.Inf(1), 0
	for {
		points := e.ask()
		margins, over, err := s.try(points)
		if over || err != nil {
			return over, err
		}
		least := ranked(slices.MinFunc(margins, func(a, b float64) int { return cmp.Compare(ranked(a), ranked(b)) }))
		if least < best {
			best, since = least, 0
		} else if since++; since >= stagnant {
			return false, nil
		}
		if len(margins) < len(points) || !e.tell(margins) {
			return false, nil
		}
	}
}

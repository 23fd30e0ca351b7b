package search

import (
	"context"
	"math"
	"slices"
)

// Adaptive searches by CMA-ES (N. Hansen, The CMA evolution strategy: a tutorial, arXiv:1604.00772) with
// restarts: it looks around evenly, follows the best point found, and when that leads nowhere looks around anew and begins
// from there with a population twice as large (A. Auger, N. Hansen, A restart CMA evolution strategy with increasing
// population size, CEC 2005). It looks around for as many runs as it has climbed, so that where nothing can be climbed it
// needs about twice the runs of chance and no more; the halves are as in the two regimes of N. Hansen, Benchmarking a BI-population
// CMA-ES on the BBOB-2009 function testbed, GECCO 2009.
func Adaptive(ctx context.Context, evaluate Evaluate, opt Options) (Result, error) {
	s, err := begin(ctx, evaluate, opt)
	if err != nil {
		return Result{}, err
	}
	over, err := s.first()
	points, population := 4+2*s.Dim, 0
	for !over && err == nil {
		var mean []float64
		if mean, over, err = s.lookAround(points); over || err != nil {
			break
		}
		before := s.Runs
		if over, err = s.climb(mean, population); over || err != nil {
			break
		}
		s.Restarts++
		points = max(points, s.Runs-before)
		population = min(2*max(population, 4+int(3*math.Log(float64(s.Dim)))), mostPopulation)
	}
	return s.Result, err
}

const (
	// spread is how far around its beginning a climb looks at first: it must reach most of the cube.
	spread = 0.25
	// stretch is over how many generations the pace of a climb is measured.
	stretch = 12
	// mostPopulation bounds a generation, and so how far a batch can go beyond the first counterexample.
	mostPopulation = 64
)

// lookAround tries points spread over the cube, and returns the best of them. What breaks something is mostly extreme in several
// ways at once, which even draws seldom are: so of the first points nearly all coordinates are moved to an end of their
// ranges, of later ones fewer, and of the last none (boundary values, as testers of software have long begun with).
func (s *state) lookAround(n int) (best []float64, over bool, err error) {
	least := math.Inf(1)
	points := LatinHypercube(s.chance, n, s.Dim)
	for i, x := range points {
		atEnds := 1 - float64(i)/float64(len(points))
		for k, v := range x {
			if s.chance.Float64() < atEnds {
				x[k] = s.end(k, v)
			}
		}
	}
	for batch := range slices.Chunk(points, batchSize) {
		margins, over, err := s.try(batch)
		if over || err != nil {
			return nil, true, err
		}
		for i, m := range margins {
			if best == nil || ranked(m) < least {
				best, least = batch[i], ranked(m)
			}
		}
	}
	return best, false, nil
}

// end is an end of a coordinate's range: the nearer one to v, or, three times in four where it is known which case is plain, the
// one that is farther from that: what is plain in the middle has none.
func (s *state) end(k int, v float64) float64 {
	if s.Begin != nil && s.Begin[k] != 0.5 && s.chance.Float64() < 0.75 {
		return 1 - math.Round(s.Begin[k])
	}
	return math.Round(v)
}

// ranked puts what cannot be judged last.
func ranked(margin float64) float64 {
	if math.IsNaN(margin) {
		return math.Inf(1)
	}
	return margin
}

// climb follows one distribution until it has come to rest, or goes down so slowly that it would not come below zero within
// the runs that are left.
func (s *state) climb(mean []float64, population int) (over bool, err error) {
	e := newEvolution(mean, spread, population, s.chance)
	best, bests := math.Inf(1), []float64(nil) // so far, by generation
	for {
		points := e.ask()
		margins, over, err := s.try(points)
		if over || err != nil {
			return over, err
		}
		for _, m := range margins {
			best = min(best, ranked(m))
		}
		bests = append(bests, best)
		if n := len(bests) - stretch; n > 0 {
			gain, runs := bests[n-1]-best, float64(stretch*len(points))
			if !(gain > 0) || best/gain*runs > float64(s.Budget-s.Runs) {
				return false, nil
			}
		}
		if len(margins) < len(points) || !e.tell(margins) {
			return false, nil
		}
	}
}

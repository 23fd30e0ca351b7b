// Package search looks for the case in which a margin is least, and stops where it is negative: a counterexample.
//
// A case is a point of the unit cube, one coordinate a parameter. What a point means, and where its margin is worked
// out, is the caller's: points come in batches whose order is fixed by the seed and the margins alone, so that a batch may be
// worked out anywhere and in any order, and the same search gives the same points each time.
package search

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
)

// Evaluate returns the margin of each point of a batch, in its order. A negative one is a counterexample. NaN stands for a
// case that cannot be judged; the search goes on and keeps away from it.
type Evaluate func(ctx context.Context, batch [][]float64) ([]float64, error)

// Trial is one point that was tried.
type Trial struct {
	Run    int // counted from 1
	X      []float64
	Margin float64
}

// Options say what is searched, and for how long.
type Options struct {
	Dim    int // parameters, at least 1
	Budget int // runs at most, at least 1
	Seed   uint64
	// Begin, if not nil, is the first point tried: the plain case, from which the search sets out.
	Begin []float64
	// Progress, if not nil, is called after each batch.
	Progress func(Result)
}

// Result is how far a search has come.
type Result struct {
	Runs     int
	Restarts int
	Best     Trial  // the least margin met; its Run is 0 if no case could be judged
	Found    *Trial // the first counterexample, nil if none
}

// state is a search under way.
type state struct {
	Options
	ctx      context.Context
	evaluate Evaluate
	chance   *rand.Rand
	Result
}

func begin(ctx context.Context, evaluate Evaluate, opt Options) (*state, error) {
	switch {
	case opt.Dim < 1:
		return nil, fmt.Errorf("search: %d parameters; there must be at least 1", opt.Dim)
	case opt.Budget < 1:
		return nil, fmt.Errorf("search: a budget of %d runs; it must be at least 1", opt.Budget)
	case opt.Begin != nil && len(opt.Begin) != opt.Dim:
		return nil, fmt.Errorf("search: it is to begin at %d coordinates, and there are %d parameters", len(opt.Begin), opt.Dim)
	}
	s := &state{Options: opt, ctx: ctx, evaluate: evaluate, chance: rand.New(rand.NewPCG(opt.Seed, 0x9E3779B97F4A7C15))}
	s.Best.Margin = math.Inf(1)
	return s, nil
}

// try works out a batch, as far as the budget goes, and returns its margins; over says that the search has ended.
func (s *state) try(batch [][]float64) (margins []float64, over bool, err error) {
	batch = batch[:min(len(batch), s.Budget-s.Runs)]
	if len(batch) == 0 {
		return nil, true, nil
	}
	margins, err = s.evaluate(s.ctx, batch)
	if err != nil {
		return nil, true, err
	}
	if len(margins) != len(batch) {
		return nil, true, fmt.Errorf("search: %d margins of %d cases", len(margins), len(batch))
	}
	for i, m := range margins {
		s.Runs++
		if math.IsNaN(m) {
			continue
		}
		t := Trial{s.Runs, append([]float64(nil), batch[i]...), m}
		if s.Best.Run == 0 || m < s.Best.Margin {
			s.Best = t
		}
		if m < 0 && s.Found == nil {
			s.Found = &t
		}
	}
	if s.Progress != nil {
		s.Progress(s.Result)
	}
	return margins, s.Found != nil || s.Runs >= s.Budget, nil
}

// first tries the point at which the search is told to begin.
func (s *state) first() (over bool, err error) {
	if s.Begin == nil {
		return false, nil
	}
	_, over, err = s.try([][]float64{s.Begin})
	return over, err
}

// batchSize is how many points are drawn at once where nothing is learnt between them.
const batchSize = 16

// Random tries points drawn evenly: the baseline that a better search must beat.
func Random(ctx context.Context, evaluate Evaluate, opt Options) (Result, error) {
	s, err := begin(ctx, evaluate, opt)
	if err != nil {
		return Result{}, err
	}
	over, err := s.first()
	for !over && err == nil {
		_, over, err = s.try(s.even(batchSize))
	}
	return s.Result, err
}

// even draws points evenly.
func (s *state) even(n int) [][]float64 {
	points := make([][]float64, n)
	for i := range points {
		points[i] = make([]float64, s.Dim)
		for k := range points[i] {
			points[i][k] = s.chance.Float64()
		}
	}
	return points
}

// LatinHypercube draws n points of which each coordinate falls once into each n-th of its range (M. D. McKay,
// R. J. Beckman, W. J. Conover, A comparison of three methods for selecting values of input variables, Technometrics 21,
// 1979).
func LatinHypercube(chance *rand.Rand, n, dim int) [][]float64 {
	points := make([][]float64, n)
	for i := range points {
		points[i] = make([]float64, dim)
	}
	for k := range dim {
		for i, cell := range chance.Perm(n) {
			points[i][k] = (float64(cell) + chance.Float64()) / float64(n)
		}
	}
	return points
}

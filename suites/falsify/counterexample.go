package falsify

import (
	"context"
	"errors"
	"math"
	"slices"
	"time"

	"kilter/scenarios"
	"kilter/suites/campaign"
	"kilter/suites/search"
	"kilter/suites/shrink"
	"kilter/suites/verdict"
)

// Counterexample is a case in which the controller fails.
type Counterexample struct {
	Criterion string
	Margin
	Run int       // of the trial that found it
	Was []float64 // as it was found
	X   []float64 // as near to the plain case as it still fails
	// Runs is how many it took to make it small.
	Runs int
	// Finding is the clause that fails in the small case, and Scenario its text.
	Finding  campaign.Finding
	Scenario []byte
	// Again says that it was played once more from its file, and failed.
	Again bool
}

// shrink makes a case small: each parameter as near to its plain value as it goes, then rounded, and then events and time that the
// failure does not take are left out.
func (h *Hunt) shrink(ctx context.Context, play Play, t *Trial) (*Counterexample, error) {
	s := &shrinking{h: h, play: play, only: &counting{only: criterionOf(t.Clause)}, left: h.Shrinking}
	c := &Counterexample{Criterion: criterionOf(t.Clause), Margin: t.Margin, Run: t.Run, Was: slices.Clone(t.X), X: slices.Clone(t.X)}
	best, _, err := search.Shrink(ctx, s.margins, t.X, s.towards(t.X), h.Shrinking)
	if err != nil {
		return nil, err
	}
	c.X = best.X
	if err := s.round(ctx, c); err != nil {
		return nil, err
	}
	sc, err := h.Problem.Form.With(h.Problem.Within.Changes(c.X)...)
	if err != nil {
		return nil, err
	}
	if sc, err = s.cut(ctx, sc); err != nil {
		return nil, err
	}
	run, err := h.Problem.runOf(sc)
	if err != nil {
		return nil, err
	}
	results, err := play(ctx, []campaign.Run{run}, nil)
	if err != nil {
		return nil, err
	}
	c.Runs = h.Shrinking - s.left
	c.Scenario, c.Margin = []byte(run.Scenario), s.only.weigh(results[0])
	if f := results[0].Find(c.Clause); f != nil {
		c.Finding = *f
	}
	return c, nil
}

// shrinking is the work on one case.
type shrinking struct {
	h    *Hunt
	play Play
	only *counting // the criterion that is to go on failing
	left int       // runs
}

// towards is the plain case, as far as there is one: what only says when or how stays where it is.
func (s *shrinking) towards(x []float64) []float64 {
	plain := slices.Clone(x)
	for k := range plain {
		if u, is := s.h.Problem.Within.Parameters[k].Plain(); is {
			plain[k] = u
		}
	}
	return plain
}

// margins plays cases for their margin by the one criterion.
func (s *shrinking) margins(ctx context.Context, batch [][]float64) ([]float64, error) {
	margins := make([]float64, len(batch))
	for i, x := range batch {
		run, err := s.h.Problem.Run(x)
		if err != nil {
			margins[i] = math.NaN()
			continue
		}
		r, err := s.one(ctx, run)
		if err != nil {
			return nil, err
		}
		margins[i] = s.only.weigh(r).Share
	}
	return margins, nil
}

func (s *shrinking) one(ctx context.Context, run campaign.Run) (*campaign.Result, error) {
	s.left--
	results, err := s.play(ctx, []campaign.Run{run}, nil)
	if err != nil {
		return nil, err
	}
	return results[0], nil
}

// round gives each parameter that matters the roundest value with which the case still fails.
func (s *shrinking) round(ctx context.Context, c *Counterexample) error {
	w := s.h.Problem.Within
	for k := range c.X {
		if !w.Matters(c.X)[k] {
			continue
		}
		for _, u := range w.Parameters[k].Coarser(c.X[k]) {
			if s.left <= 0 {
				return nil
			}
			x := slices.Clone(c.X)
			x[k] = u
			if !slices.Equal(w.Matters(x), w.Matters(c.X)) {
				continue
			}
			margins, err := s.margins(ctx, [][]float64{x})
			if err != nil {
				return err
			}
			if margins[0] < 0 {
				c.X = x
				break
			}
		}
	}
	return nil
}

// cut leaves out of a scenario what its failure does not take.
func (s *shrinking) cut(ctx context.Context, sc *scenarios.Scenario) (*scenarios.Scenario, error) {
	if s.left < 2 {
		return sc, nil
	}
	small, _, err := shrink.Scenario(ctx, sc, func(ctx context.Context, sc *scenarios.Scenario) (shrink.Failure, error) {
		run, err := s.h.Problem.runOf(sc)
		if err != nil {
			return shrink.Failure{}, nil // what cannot be played does not fail
		}
		r, err := s.one(ctx, run)
		if err != nil {
			return shrink.Failure{}, err
		}
		return s.failure(r), nil
	}, shrink.Options{Runs: s.left})
	if errors.Is(err, shrink.ErrPasses) {
		return sc, nil // a controller that dies has no moment of failure, and is left as it is
	}
	return small, err
}

// failure says when the criterion first failed.
func (s *shrinking) failure(r *campaign.Result) shrink.Failure {
	m := s.only.weigh(r)
	f := r.Find(m.Clause)
	if !(m.Share < 0) || f == nil || f.Status != verdict.Failed {
		return shrink.Failure{}
	}
	at, _ := f.FirstS.Value()
	return shrink.Failure{Failed: true, At: time.Duration(at * float64(time.Second))}
}

// Confirm plays a scenario that was read from the case's file, and notes whether it fails again as the case did.
func (c *Counterexample) Confirm(ctx context.Context, p *Problem, sc *scenarios.Scenario, play func(context.Context, *campaign.Run) (*campaign.Result, error)) error {
	run, err := p.runOf(sc)
	if err != nil {
		return err
	}
	r, err := play(ctx, &run)
	if err != nil {
		return err
	}
	only := &counting{only: c.Criterion}
	c.Again = only.weigh(r).Share < 0
	return nil
}

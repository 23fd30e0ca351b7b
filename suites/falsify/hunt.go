package falsify

import (
	"context"
	"fmt"
	"math"

	"kilter/suites/campaign"
	"kilter/suites/search"
	"kilter/suites/verdict"
)

// Method is how cases are chosen.
type Method string

// Adaptive follows the margins; Random draws evenly, and is what it has to beat.
const (
	Adaptive Method = "adaptive"
	Random   Method = "random"
)

// Options bound a hunt.
type Options struct {
	Budget int // runs at most, without those that shrink what is found
	Seed   uint64
	Method Method
	// All is how many cases are looked for, each of a criterion that failed in none before; 0 is 1.
	All int
	// Shrinking is how many runs each case that is found may take to be made small; 0 leaves it as it is.
	Shrinking int
	// See, if not nil, is called with each result of the search as it comes, and Found with each case before it is made small.
	See   func(*campaign.Result)
	Found func(*Trial)
}

// Trial is one case that was tried.
type Trial struct {
	Run int // counted from 1
	X   []float64
	Margin
	// Error says why there is no margin: the parameters do not go together.
	Error  string
	Result *campaign.Result // nil where there is an error
}

// Hunt is what a search came to.
type Hunt struct {
	Options
	Problem  *Problem
	Trials   []Trial
	Restarts int
	Cases    []*Counterexample
}

// Absence says that the controller never came, or died, in the scenario as it stands, so that there is nothing to search.
type Absence struct {
	Result *campaign.Result
	Runs   []campaign.Run // in which it was missed
}

func (a *Absence) Error() string { return a.Result.Fault }

// Find looks for cases in which the controller fails. Where the context ends first the hunt so far comes with its error. The
// error is an Absence where there is nobody to put to the test.
func Find(ctx context.Context, p *Problem, play Play, opt Options) (*Hunt, error) {
	h := &Hunt{Options: opt, Problem: p}
	count := &counting{only: p.Criterion, not: map[string]bool{}}
	seed := opt.Seed
	for len(h.Cases) < max(1, opt.All) && len(h.Trials) < opt.Budget {
		t := h.failing(count)
		if t == nil {
			r, err := h.look(ctx, play, count, seed)
			if err != nil {
				return h, err
			}
			h.Restarts += r.Restarts
			if t = h.failing(count); t == nil {
				break
			}
		}
		if h.Found != nil {
			h.Found(t)
		}
		c, err := h.shrink(ctx, play, t)
		if err != nil {
			return h, err
		}
		h.Cases = append(h.Cases, c)
		count.not[criterionOf(c.Clause)] = true
		seed++
	}
	return h, nil
}

// failing is the first case tried so far in which a criterion failed that still counts.
func (h *Hunt) failing(count *counting) *Trial {
	for i := range h.Trials {
		if t := &h.Trials[i]; t.Result != nil {
			if m := count.weigh(t.Result); m.Share < 0 {
				again := *t
				again.Margin = m
				return &again
			}
		}
	}
	return nil
}

// look searches until a case is found, or the budget is spent.
func (h *Hunt) look(ctx context.Context, play Play, count *counting, seed uint64) (search.Result, error) {
	find := search.Adaptive
	switch h.Method {
	case Adaptive:
	case Random:
		find = search.Random
	default:
		return search.Result{}, fmt.Errorf("falsify: found the method %q, want %s or %s", h.Method, Adaptive, Random)
	}
	opt := search.Options{Dim: len(h.Problem.Within.Parameters), Budget: h.Budget - len(h.Trials), Seed: seed}
	if len(h.Trials) == 0 {
		opt.Begin = h.Problem.Within.Plain()
	}
	return find(ctx, func(ctx context.Context, batch [][]float64) ([]float64, error) {
		trials, err := h.try(ctx, play, count, batch)
		if err != nil {
			return nil, err
		}
		margins := make([]float64, len(trials))
		for i := range trials {
			margins[i] = trials[i].guide
		}
		return margins, nil
	}, opt)
}

// try plays a batch of cases, and notes them.
func (h *Hunt) try(ctx context.Context, play Play, count *counting, batch [][]float64) ([]Trial, error) {
	trials := make([]Trial, len(batch))
	var runs []campaign.Run
	var places []int
	for i, x := range batch {
		trials[i] = Trial{Run: len(h.Trials) + i + 1, X: x, Margin: Margin{Share: math.NaN(), guide: math.NaN()}}
		run, err := h.Problem.Run(x)
		if err != nil {
			trials[i].Error = err.Error()
			continue
		}
		runs, places = append(runs, run), append(places, i)
	}
	results, err := play(ctx, runs, func(_ int, r *campaign.Result) {
		if h.See != nil {
			h.See(r)
		}
	})
	if err != nil {
		return nil, err
	}
	again, err := onceMore(ctx, play, runs, results)
	if err != nil {
		return nil, err
	}
	for k, r := range results {
		t := &trials[places[k]]
		t.Result, t.Margin = r, count.weigh(r)
	}
	if len(h.Trials) == 0 && isGone(trials[0].Result) {
		return nil, &Absence{trials[0].Result, append(runs[:1:1], again...)}
	}
	h.Trials = append(h.Trials, trials...)
	return trials, nil
}

// onceMore plays runs again in which the controller died or never came: on a busy machine it may have been out of patience alone. The
// second result counts. It returns what was played again.
func onceMore(ctx context.Context, play Play, runs []campaign.Run, results []*campaign.Result) (again []campaign.Run, err error) {
	var places []int
	for k, r := range results {
		if isGone(r) {
			run := runs[k]
			run.Name += " once more" // a run of another name is another run
			again, places = append(again, run), append(places, k)
		}
	}
	if again == nil {
		return nil, nil
	}
	second, err := play(ctx, again, nil)
	for i, r := range second {
		results[places[i]] = r
	}
	return again, err
}

// isGone says whether a controller never came, or died.
func isGone(r *campaign.Result) bool {
	return r != nil && (r.FaultKind == verdict.ControllerDied || r.FaultKind == verdict.ControllerNeverCame)
}

// Least is the trial of the least share, nil where none was judged.
func (h *Hunt) Least() *Trial {
	var least *Trial
	for i := range h.Trials {
		if t := &h.Trials[i]; !math.IsNaN(t.Share) && (least == nil || t.Share < least.Share) {
			least = t
		}
	}
	return least
}

// Unjudged is how many cases had parameters that do not go together, or nothing that could be judged, and an example of why.
func (h *Hunt) Unjudged() (n int, example string) {
	for i := range h.Trials {
		t := &h.Trials[i]
		if !math.IsNaN(t.Share) {
			continue
		}
		n++
		if example == "" {
			example = t.Error
		}
	}
	return n, example
}

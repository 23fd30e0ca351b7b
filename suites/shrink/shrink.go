package shrink

import (
	"context"
	"errors"
	"slices"
	"time"

	"kilter/scenarios"
)

// Failure is what playing a scenario came to.
type Failure struct {
	Failed bool
	At     time.Duration // when the criterion was first violated
}

// Judge plays a scenario and says whether it fails as the one that is shrunk does. What cannot be played does not.
type Judge func(context.Context, *scenarios.Scenario) (Failure, error)

// Progress is how far shrinking has come.
type Progress struct {
	Runs, Events int
	Lasts        time.Duration
}

// Options bound the work.
type Options struct {
	Runs     int // at most so many; 0 is 400
	Progress func(Progress)
}

// ErrPasses says that the scenario does not fail in the first place.
var ErrPasses = errors.New("the scenario does not fail")

// Scenario shrinks a scenario. The same scenario and judge give the same result. Runs is how often it was played.
//
// The end goes first, since all else is then quicker to try; then events, by halves and ever smaller parts (A. Zeller,
// R. Hildebrandt, Simplifying and isolating failure-inducing input, IEEE Trans. Software Engineering 28, 2002); then
// the beginning; and all again until nothing changes.
func Scenario(ctx context.Context, sc *scenarios.Scenario, judge Judge, opt Options) (small *scenarios.Scenario, runs int, err error) {
	s := &shrinking{ctx: ctx, judge: judge, Options: opt}
	if s.Runs == 0 {
		s.Runs = 400
	}
	if !s.accept(sc) {
		return nil, s.runs, errors.Join(s.err, ErrPasses)
	}
	for {
		before := s.best
		s.cutEnd()
		s.dropEvents()
		s.cutBeginning()
		if s.err != nil {
			return nil, s.runs, s.err
		}
		if s.best == before || s.runs >= s.Runs {
			return s.best, s.runs, nil
		}
	}
}

type shrinking struct {
	Options
	ctx   context.Context
	judge Judge
	best  *scenarios.Scenario
	at    time.Duration // when it first fails
	runs  int
	err   error
}

// accept plays a scenario, and keeps it where it fails. It plays what it would write, read again: what is worked out
// of a file, such as the time of day for loads, fits its new beginning then.
func (s *shrinking) accept(sc *scenarios.Scenario) bool {
	if s.err != nil || s.runs >= s.Runs {
		return false
	}
	text, err := sc.Resolve()
	if err != nil {
		s.err = err
		return false
	}
	if sc, err = scenarios.ParseScenario(sc.Source, text); err != nil {
		return false // its limits no longer fit so short a story
	}
	s.runs++
	f, err := s.judge(s.ctx, sc)
	if err != nil || !f.Failed {
		s.err = err
		return false
	}
	s.best, s.at = sc, f.At
	if s.Progress != nil {
		s.Progress(Progress{s.runs, len(sc.Events), sc.Lasts})
	}
	return true
}

// grain is how closely times are cut, and closest how near to the failure: an end to the second would
// look like a riddle.
const grain = 30 * time.Second

// lead is what remains before the failure, so that it is not the beginning itself that fails.
const lead = 2 * time.Minute

// cutEnd looks for the earliest end with which it still fails.
func (s *shrinking) cutEnd() {
	least := (s.at/grain + 1) * grain
	s.bisect(least, s.best.Lasts, func(lasts time.Duration) *scenarios.Scenario { return endingAt(s.best, lasts) })
}

// cutBeginning looks for the latest beginning with which it still fails.
func (s *shrinking) cutBeginning() {
	if !movable(s.best) {
		return
	}
	whole, most := s.best, (s.at-lead)/grain*grain
	// Counted from its end, so that less is better here too.
	s.bisect(whole.Lasts-most, whole.Lasts, func(left time.Duration) *scenarios.Scenario { return beginningAt(whole, whole.Lasts-left) })
}

// bisect looks for the least duration that still fails, which is taken to divide those that do from those that do not.
func (s *shrinking) bisect(least, most time.Duration, with func(time.Duration) *scenarios.Scenario) {
	if least >= most || s.accept(with(least)) {
		return
	}
	for most-least > grain {
		middle := least + (most-least)/2/grain*grain
		if middle == least {
			return
		}
		if s.accept(with(middle)) {
			most = middle
		} else {
			least = middle
		}
	}
}

// dropEvents leaves out what the failure does not need.
func (s *shrinking) dropEvents() {
	for parts := 2; len(s.best.Events) > 0 && s.err == nil; {
		events := s.best.Events
		part := max(1, (len(events)+parts-1)/parts)
		dropped := false
		for from := 0; from < len(events) && !dropped; from += part {
			rest := slices.Concat(events[:from], events[min(from+part, len(events)):])
			dropped = s.accept(s.best.WithEvents(rest, s.best.Lasts))
		}
		switch {
		case dropped:
			parts = max(2, parts-1)
		case part == 1:
			return
		default:
			parts *= 2
		}
	}
}

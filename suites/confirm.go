package suites

import (
	"context"
	"math"
	"slices"
	"time"

	"kilter/emulator"
	"kilter/physics"
	"kilter/scenarios"
	"kilter/suites/criteria"
	"kilter/suites/verdict"
)

// confirmHunting decides a hunting criterion for which the story left no quiet time. It plays the story again from the
// start, with a controller afresh, and from the time of the suspicion on holds the loads and the sky as they are, so that
// the batteries alone can move: what rings down was an answer to the loads, what goes on is hunting. In stepped pace both
// runs are the same up to that time.
//
// Where it cannot be played again the criterion stays undetermined.
func confirmHunting(ctx context.Context, sc *scenarios.Scenario, opt Options, out *Outcome) error {
	at := slices.IndexFunc(out.Results, func(r criteria.Result) bool { return r.Name == "hunting" })
	if at < 0 || out.Results[at].Status != criteria.Undetermined || !opt.repeatable() {
		return nil
	}
	first := &out.Results[at]
	from := heldFrom(first, sc)
	again := opt
	again.Traffic, again.Progress, again.Log, again.once = nil, nil, nil, true
	second, err := Play(ctx, held(sc, from, first), again)
	if err != nil || second.Run.Error != nil {
		return err // a controller that ends there has said nothing about this
	}
	r := second.Results[0]
	if r.Status == criteria.Undetermined || r.Status == criteria.NotExercised {
		return nil
	}
	where := "; decided by a second run from the start, in which loads and sky were held from " + verdict.Moment(from.Seconds()) + " on"
	r.Detail += where
	if r.Status == criteria.Failed {
		// The trace is that of the first run: there it shows where it was suspected.
		r.AtS = min(first.AtS, from.Seconds())
		r.FirstBreachS = r.AtS
	}
	*first = r
	out.scenes[at] = second.scenes[0]
	return nil
}

// repeatable says whether a play can be repeated exactly.
func (opt *Options) repeatable() bool {
	exact := opt.Pace == emulator.Stepped || opt.Pace == emulator.Free
	return exact && !opt.once && opt.again == nil && len(opt.Beside) == 0 && opt.Controller.Attach == nil
}

// heldFrom is when to hold what is given: at the end of what was suspected, or at the end of the story.
func heldFrom(r *criteria.Result, sc *scenarios.Scenario) time.Duration {
	if s := figure(r, "suspected_until"); s > 0 {
		return time.Duration(math.Round(s*1000)) * time.Millisecond
	}
	return sc.Lasts - sc.Step
}

func figure(r *criteria.Result, name string) float64 {
	for _, f := range r.Figures {
		if f.Name == name {
			return f.Value
		}
	}
	return 0
}

// quietMargin is what a quiet interval needs beside its length: the net load must have been calm before, and rounding.
const quietMargin = 30 * time.Second

// held is the story up to a time, and then long enough in quiet to decide: a minute and three of the suspected periods.
func held(sc *scenarios.Scenario, from time.Duration, r *criteria.Result) *scenarios.Scenario {
	c := *sc
	c.Must = scenarios.Must{Hunting: sc.Must.Hunting}
	c.Events = slices.DeleteFunc(slices.Clone(sc.Events), func(e scenarios.Event) bool { return e.At >= from })
	c.Events = append(c.Events, scenarios.Event{At: from, Device: scenarios.SkyName, Action: physics.HoldGiven{}, Text: "loads and sky are held"})
	periods := time.Duration(3 * figure(r, "suspected_period") * float64(time.Second))
	c.Lasts = from + sc.Must.Hunting.GoneWithin + max(time.Minute, periods) + quietMargin
	c.Lasts += (sc.Step - c.Lasts%sc.Step) % sc.Step
	for _, w := range []*[]scenarios.Window{&c.ImportWanted, &c.ExportWanted, &c.Cheap} {
		*w = heldWindows(*w, from, c.Lasts)
	}
	return &c
}

// heldWindows lets a window that is open at a time stay so, and leaves out what comes later.
func heldWindows(list []scenarios.Window, from, end time.Duration) []scenarios.Window {
	var kept []scenarios.Window
	for _, w := range list {
		if w.From >= from {
			continue
		}
		if w.To > from {
			w.To = end
		}
		kept = append(kept, w)
	}
	return kept
}

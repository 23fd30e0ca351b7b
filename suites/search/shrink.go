package search

import (
	"context"
	"fmt"
	"slices"
)

// Shrink brings a counterexample as near to a plain case as it can while it stays one: coordinate by coordinate it
// tries the plain value, and then bisects between the two. It takes at most so many runs, and returns what it came to.
func Shrink(ctx context.Context, evaluate Evaluate, found, plain []float64, budget int) (Trial, int, error) {
	if len(found) != len(plain) {
		return Trial{}, 0, fmt.Errorf("search: a counterexample of %d coordinates, and a plain case of %d", len(found), len(plain))
	}
	best := Trial{X: slices.Clone(found)}
	runs := 0
	// fails tries one coordinate's value, and keeps it where the case stays a counterexample.
	fails := func(k int, v float64) (bool, error) {
		if runs >= budget {
			return false, nil
		}
		runs++
		x := slices.Clone(best.X)
		x[k] = v
		margins, err := evaluate(ctx, [][]float64{x})
		if err != nil || !(margins[0] < 0) {
			return false, err
		}
		best = Trial{Run: runs, X: x, Margin: margins[0]}
		return true, nil
	}
	for changed := true; changed; {
		changed = false
		for k := range best.X {
			if best.X[k] == plain[k] {
				continue
			}
			plainFails, err := fails(k, plain[k])
			if err != nil {
				return best, runs, err
			}
			changed = changed || plainFails
			// What is needed lies between the plain value and the one that fails.
			good := plain[k]
			for n := 0; n < bisections && !plainFails; n++ {
				middle := (good + best.X[k]) / 2
				failed, err := fails(k, middle)
				if err != nil {
					return best, runs, err
				}
				if !failed {
					good = middle
				}
			}
		}
	}
	return best, runs, nil
}

// bisections is how often a coordinate is halved: to a sixteenth of its way.
const bisections = 4

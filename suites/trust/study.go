package trust

import (
	"context"
	"fmt"
	"io"
	"runtime"
	"sync"
	"time"
)

// Options say how large a study is.
type Options struct {
	Seed             uint64
	Stable, Unstable int // how many cases of each kind
	Progress         io.Writer
}

// The seeds of cases. Bounds and thresholds may be chosen by the cases of the
// training seeds, which are small; what is published comes from another.
const (
	TrainingSeeds = 1000
	Fresh         = 20_261_125
)

// Study is all cases, in the order of their numbers: stable ones, then unstable.
type Study struct {
	Options  Options
	Outcomes []*Outcome
}

// Run plays all cases, as many at a time as there are processors.
func Run(ctx context.Context, o Options) (*Study, error) {
	s := &Study{Options: o, Outcomes: make([]*Outcome, o.Stable+o.Unstable)}
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	next, done := make(chan int), make(chan *Outcome)
	var workers sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		workers.Go(func() {
			for i := range next {
				out, err := Play(o.kind(i))(o.Seed)
				if err != nil {
					stop(err)
					return
				}
				s.Outcomes[i] = out
				select {
				case done <- out:
				case <-ctx.Done():
					return
				}
			}
		})
	}
	go func() {
		defer close(next)
		for i := range s.Outcomes {
			select {
			case next <- i:
			case <-ctx.Done():
				return
			}
		}
	}()
	go func() {
		workers.Wait()
		close(done)
	}()
	o.tell(done, len(s.Outcomes))
	if err := context.Cause(ctx); err != nil {
		return nil, err
	}
	return s, nil
}

// kind is the kind and number of the i-th case.
func (o *Options) kind(i int) (Kind, int) {
	if i < o.Stable {
		return Stable, i
	}
	return Unstable, i - o.Stable
}

// tell shows how far the study is, every few seconds.
func (o *Options) tell(done <-chan *Outcome, all int) {
	played, alarms, missed, shown := 0, 0, 0, time.Now()
	for out := range done {
		played++
		alarms += len(out.FalseAlarms())
		if out.Missed() {
			missed++
		}
		if o.Progress != nil && (time.Since(shown) > 5*time.Second || played == all) {
			shown = time.Now()
			fmt.Fprintf(o.Progress, "%d of %d cases: %d false alarms, %d misses\n", played, all, alarms, missed)
		}
	}
}

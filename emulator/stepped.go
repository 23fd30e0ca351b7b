package emulator

import (
	"context"
	"math"
	"time"
)

// runStepped moves time only while every controller waits. Mostly it is the last one to wait that moves it, in the
// goroutine of its own request (see await): this one looks after the rest.
func (b *Bench) runStepped(ctx context.Context, gone <-chan error) error {
	look := min(b.options.StartTimeout, b.options.StallTimeout)
	patience := time.NewTimer(look)
	defer patience.Stop()
	b.mutex.Lock()
	b.strides.on, b.strides.within = true, ctx
	b.strides.last, b.strides.patience = time.Now(), b.options.StartTimeout
	b.mutex.Unlock()
	defer func() {
		b.mutex.Lock()
		defer b.mutex.Unlock()
		b.strides.on = false
	}()
	for {
		b.mutex.Lock()
		if p := b.strides.panicked; p != nil {
			b.mutex.Unlock()
			panic(p)
		}
		if b.ended() {
			b.mutex.Unlock()
			return nil
		}
		if b.idle() {
			if b.nextTrialMS() <= b.plant.TimeMS() {
				b.mutex.Unlock()
				if err := b.attempt(); err != nil {
					return err
				}
				b.mutex.Lock()
				b.strides.last, b.strides.patience = time.Now(), b.options.StartTimeout
				b.mutex.Unlock()
				continue
			}
			b.stride()
			b.mutex.Unlock()
			if ctx.Err() != nil {
				return ctx.Err()
			}
			continue
		}
		left := b.strides.patience - time.Since(b.strides.last)
		b.mutex.Unlock()
		if left <= 0 && !b.options.Endless {
			return b.stalled()
		}
		select {
		case <-b.waits.asked:
		case err := <-gone:
			return b.exited(b.finish(ctx, err, gone))
		case <-ctx.Done():
			return ctx.Err()
		case <-b.over:
			return ErrClosed
		case <-patience.C:
			patience.Reset(look)
		}
	}
}

// strides are how time moves in stepped pace.
type strides struct {
	on       bool            // the run is on
	within   context.Context // of the run
	last     time.Time       // when time moved last, on the wall clock
	patience time.Duration   // how long after that it may stand still
	panicked any             // what an observer panicked with
}

// stride moves time to the earliest wait, trial or end. The caller holds the mutex, has seen that nobody is at work, and
// no trial is due.
func (b *Bench) stride() {
	b.collect()
	until := min(b.lastMS(), b.nextTrialMS())
	for _, w := range b.waits.pending {
		if !b.away(w.controller) {
			until = min(until, w.untilMS)
		}
	}
	for b.plant.TimeMS() < until {
		// Looking at the context costs more than a step.
		if b.plant.Tick()%1024 == 0 && b.strides.within.Err() != nil {
			break
		}
		b.tick()
	}
	b.publish()
	if until < b.lastMS() {
		b.wake()
	}
	b.strides.last, b.strides.patience = time.Now(), b.options.StallTimeout
}

// strideInline is stride for the goroutine of a request, whose panics are those of the run. Time stands still while
// something is done to the controller.
func (b *Bench) strideInline() {
	defer func() {
		if p := recover(); p != nil {
			b.strides.panicked = p
		}
	}()
	if b.strides.on && b.strides.panicked == nil && !b.trials.underway && b.idle() && !b.ended() && b.nextTrialMS() > b.plant.TimeMS() {
		b.stride()
	}
}

// idle says whether nobody is at work: every controller waits, or none is there. The caller holds the mutex.
func (b *Bench) idle() bool { return b.waitsBelow(b.controllers()) }

// lastMS is the instant at which the run ends [ms], if it does. The caller holds the mutex.
func (b *Bench) lastMS() int64 {
	if b.options.Endless {
		return math.MaxInt64
	}
	return b.endMS
}

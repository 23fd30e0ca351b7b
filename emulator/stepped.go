package emulator

import (
	"context"
	"math"
	"time"
)

// runStepped moves time only while the controller waits.
func (b *Bench) runStepped(ctx context.Context, gone <-chan error) error {
	patience := time.NewTimer(b.options.StartTimeout)
	defer patience.Stop()
	for {
		b.mutex.Lock()
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
				patience.Reset(b.options.StartTimeout)
				continue
			}
			b.collect()
			until := min(b.lastMS(), b.nextTrialMS())
			for _, w := range b.waits.pending {
				if !b.away(w.controller) {
					until = min(until, w.untilMS)
				}
			}
			for b.plant.TimeMS() < until {
				// Looking at the context costs more than a step.
				if b.plant.Tick()%1024 == 0 && ctx.Err() != nil {
					break
				}
				b.tick()
			}
			b.publish()
			if until < b.lastMS() {
				b.wake()
			}
			b.mutex.Unlock()
			if ctx.Err() != nil {
				return ctx.Err()
			}
			patience.Reset(b.options.StallTimeout)
			continue
		}
		b.mutex.Unlock()
		select {
		case <-b.waits.asked:
		case err := <-gone:
			return b.exited(err)
		case <-ctx.Done():
			return ctx.Err()
		case <-b.over:
			return ErrClosed
		case <-patience.C:
			if !b.options.Endless {
				return b.stalled()
			}
		}
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

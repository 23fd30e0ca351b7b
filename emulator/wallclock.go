package emulator

import (
	"context"
	"time"
)

// mostAtOnce is how many steps that are due are made before the wire has its turn.
const mostAtOnce = 1024

// runWithClock moves time with the wall clock, as fast as the pace says. A late step is made up
// for at once.
func (b *Bench) runWithClock(ctx context.Context, gone <-chan error) error {
	if err := b.welcome(ctx); err != nil {
		return err
	}
	start, step := time.Now(), time.Duration(b.stepMS)*time.Millisecond
	b.mutex.Lock()
	if b.tempo.since.IsZero() {
		b.tempo = tempo{pace: b.options.Pace, since: start}
	}
	b.mutex.Unlock()
	due := func(tick int64) time.Time { return b.tempo.due(tick, step) } // under the mutex
	timer := time.NewTimer(0)
	defer timer.Stop()
	expect, since := b.options.Expect, start
	for {
		if err := b.attempt(); err != nil {
			return err
		}
		b.mutex.Lock()
		for range mostAtOnce {
			late := time.Since(due(b.plant.Tick()))
			if late < 0 || b.ended() || b.nextTrialMS() <= b.plant.TimeMS() {
				break
			}
			b.punctuality.note(late)
			b.tick()
			b.publish()
			b.wake()
		}
		ended, next := b.ended(), due(b.plant.Tick())
		if !b.awaited() {
			since = time.Now()
		}
		b.mutex.Unlock()
		if ended {
			return nil
		}
		if expect && time.Since(since) > b.options.StartTimeout {
			for i := range b.controllers() {
				if !(b.trials.doubled && i == secondCopy) && !b.heard(i) {
					return b.neverCame(i)
				}
			}
			expect = false
		}
		timer.Reset(time.Until(next))
		select {
		case <-timer.C:
		case <-b.retimed:
		case err := <-gone:
			return b.exited(err)
		case <-ctx.Done():
			return ctx.Err()
		case <-b.over:
			return ErrClosed
		}
	}
}

// welcome waits for the first request where a controller is to come by itself.
func (b *Bench) welcome(ctx context.Context) error {
	if !b.options.Attach {
		return nil
	}
	patience := time.NewTimer(b.options.StartTimeout)
	defer patience.Stop()
	look := time.NewTicker(time.Millisecond)
	defer look.Stop()
	for {
		select {
		case <-look.C:
		case <-ctx.Done():
			return ctx.Err()
		case <-b.over:
			return ErrClosed
		case <-patience.C:
			return b.neverCame(0)
		}
		b.mutex.Lock()
		came := b.trials.controller == Present
		b.mutex.Unlock()
		if came {
			return nil
		}
	}
}

// ended says whether the scenario is over. The caller holds the mutex.
func (b *Bench) ended() bool { return b.plant.TimeMS() >= b.endMS && !b.options.Endless }

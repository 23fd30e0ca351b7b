package emulator

import (
	"context"
	"errors"
	"time"
)

// finish lets the other controllers come to the end of the instant in which one has ended, within their patience: what
// they do in it is then on record, however soon the news of the end has come. It returns whose end is told: of those
// that end in this instant, the one with the lowest number.
func (b *Bench) finish(ctx context.Context, end error, gone <-chan error) error {
	told, several := b.leave(end)
	if !several {
		return end
	}
	patience := time.NewTimer(b.options.StallTimeout)
	defer patience.Stop()
	look := time.NewTicker(200 * time.Microsecond)
	defer look.Stop()
	for !b.settled() {
		select {
		case err := <-gone:
			if who, is := b.leave(err); is && who < told {
				told, end = who, err
			}
		case <-look.C:
		case <-patience.C:
			return end
		case <-ctx.Done():
			return end
		case <-b.over:
			return end
		}
	}
	return end
}

// leave notes that one of several controllers has ended, after which time moves no more.
func (b *Bench) leave(end error) (controller int, several bool) {
	var exit *Exit
	if !errors.As(end, &exit) {
		return 0, false
	}
	b.mutex.Lock()
	defer b.mutex.Unlock()
	b.strides.on = false
	b.waits.left[exit.Controller] = true
	b.waits.turns.Broadcast() // it takes no more of them
	return exit.Controller, true
}

// settled says whether all that ever came wait, or have ended.
func (b *Bench) settled() bool {
	b.mutex.Lock()
	defer b.mutex.Unlock()
	for i := range b.controllers() {
		if b.heard(i) && !b.waiting(i) {
			return false
		}
	}
	return true
}

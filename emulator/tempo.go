package emulator

import (
	"fmt"
	"time"
)

// tempo is how simulated time follows the wall clock from a moment on. A pace of 0 holds it.
type tempo struct {
	pace  Pace
	tick  int64
	since time.Time
}

// due is when a tick may be made.
func (t tempo) due(tick int64, step time.Duration) time.Time {
	if t.pace == 0 {
		return t.since.Add(24 * 365 * time.Hour)
	}
	return t.since.Add(t.pace.wall(time.Duration(tick+1-t.tick) * step))
}

// SetPace changes a pace that follows the wall clock to another one, or holds time where it is 0.
func (b *Bench) SetPace(p Pace) error {
	if b.options.Pace <= 0 {
		return fmt.Errorf("pace %v: the controller moves time itself, and nobody else can", b.options.Pace)
	}
	if p != 0 && !(p >= slowest && p <= fastest) {
		return fmt.Errorf("pace %v: must be 0, which holds time, or from %g to %d", float64(p), slowest, int(fastest))
	}
	b.mutex.Lock()
	b.tempo = tempo{pace: p, tick: b.plant.Tick(), since: time.Now()}
	b.mutex.Unlock()
	select {
	case b.retimed <- struct{}{}:
	default:
	}
	return nil
}

// PaceNow is the pace at this moment; 0 where time is held.
func (b *Bench) PaceNow() Pace {
	b.mutex.Lock()
	defer b.mutex.Unlock()
	if b.options.Pace > 0 && !b.tempo.since.IsZero() {
		return b.tempo.pace
	}
	return b.options.Pace
}

package control

import (
	"context"
	"fmt"
	"math"
	"time"
)

// longestWait is the wall time for which a wait may go unanswered. Simulated
// time may stand still as long as another controller works.
const longestWait = 30 * time.Minute

// hangUp is how long the end of a connection may take to be seen [wall time].
const hangUp = 50 * time.Millisecond

// benchClock tells simulated time and lets it pass.
type benchClock struct {
	bus     Bus
	timeMS  *register
	waitMS  *register
	stepped bool
	follows bool
	speed   float64

	lastMS float64
	turns  float64 // how often the 32-bit time has wrapped
}

// now is simulated time since the start of the run.
func (c *benchClock) now() (time.Duration, error) {
	words, err := c.bus.Read(c.timeMS.table, c.timeMS.address, c.timeMS.size())
	if err != nil {
		return 0, err
	}
	ms := c.timeMS.decode(words)
	if !ms.Known {
		return 0, fmt.Errorf("time_ms is not known")
	}
	if ms.Value < c.lastMS-math.MaxInt32 {
		c.turns++
	}
	c.lastMS = ms.Value
	return time.Duration(ms.Value+c.turns*(math.MaxUint32+1)) * time.Millisecond, nil
}

// wait lets simulated time pass. In stepped pace it does so by a write whose
// reply comes when the time has passed. Where the bench follows the polls, the next
// one makes the time pass, and a pause on the wall clock would be lost.
func (c *benchClock) wait(ctx context.Context, d time.Duration) error {
	if c.follows {
		return ctx.Err()
	}
	if !c.stepped {
		timer := time.NewTimer(time.Duration(float64(d) / c.speed))
		defer timer.Stop()
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-timer.C:
			return nil
		}
	}
	done := make(chan error, 1)
	go func() {
		done <- c.bus.Write(c.waitMS.table, c.waitMS.address, c.waitMS.encode(float64(d/time.Millisecond)))
	}()
	select {
	case err := <-done:
		return err
	case <-ctx.Done():
	}
	// A bench that closes and then stops its controllers has hung up by now.
	select {
	case err := <-done:
		return err
	case <-time.After(hangUp):
		return ctx.Err()
	}
}

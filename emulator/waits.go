package emulator

import (
	"errors"
	"fmt"
	"time"

	"kilter/emulator/modbus"
)

// ControllerError says that the controller, and not the bench or the site, ended a run.
type ControllerError struct {
	Came bool   // it had been heard of before
	Text string // what happened, in one line
}

func (e *ControllerError) Error() string { return e.Text }

// waits are the requests that are answered when simulated time has passed: writes to the
// bench clock's wait register, and requests that a silent device never answers.
type waits struct {
	pending []*wait
	asked   chan struct{} // a new wait has come; holds one
	came    bool          // a first wait has come
}

type wait struct {
	untilMS int64
	passed  chan struct{}
}

// await blocks until simulated time has moved on by ms, and says whether it has: it has not when
// the peer or the run ends first. The caller does not hold the mutex.
func (b *Bench) await(from modbus.Peer, ms int64) bool {
	ticks := (ms + b.stepMS - 1) / b.stepMS
	b.mutex.Lock()
	w := &wait{untilMS: b.plant.TimeMS() + ticks*b.stepMS, passed: make(chan struct{})}
	b.waits.pending = append(b.waits.pending, w)
	b.waits.came = true
	b.mutex.Unlock()
	select {
	case b.waits.asked <- struct{}{}:
	default:
	}
	select {
	case <-w.passed:
		return true
	case <-from.Done:
	case <-b.over:
	}
	b.mutex.Lock()
	defer b.mutex.Unlock()
	for i, x := range b.waits.pending {
		if x == w {
			b.waits.pending = append(b.waits.pending[:i], b.waits.pending[i+1:]...)
			return false
		}
	}
	return true // time passed in the same instant
}

// wake answers the waits whose time has come. The caller holds the mutex.
func (b *Bench) wake() {
	now := b.plant.TimeMS()
	kept := b.waits.pending[:0]
	for _, w := range b.waits.pending {
		if w.untilMS <= now {
			close(w.passed)
		} else {
			kept = append(kept, w)
		}
	}
	b.waits.pending = kept
}

func (b *Bench) now() time.Duration { return time.Duration(b.plant.TimeMS()) * time.Millisecond }

func (b *Bench) exited(err error) error {
	b.mutex.Lock()
	defer b.mutex.Unlock()
	var beyond *runaway
	if errors.As(err, &beyond) {
		return &ControllerError{Came: b.heard(), Text: fmt.Sprintf("the controller was stopped at %v of simulated time: %v", b.now(), beyond)}
	}
	how := "with exit code 0"
	if err != nil {
		how = "with " + err.Error()
	}
	if !b.heard() {
		return &ControllerError{Text: "the controller ended " + how + " before it connected to any device"}
	}
	return &ControllerError{Came: true, Text: fmt.Sprintf("the controller ended %s at %v of simulated time; the scenario lasts %v", how, b.now(), b.scenario.Lasts) + b.refusedWait()}
}

func (b *Bench) stalled() error {
	b.mutex.Lock()
	defer b.mutex.Unlock()
	switch {
	case !b.heard():
		return &ControllerError{Text: fmt.Sprintf("the controller never connected to any device within %v", b.options.StartTimeout)}
	case b.traffic.RefusedWaits > 0:
		return &ControllerError{Came: true, Text: fmt.Sprintf("the controller stopped waiting at %v of simulated time", b.now()) + b.refusedWait()}
	case !b.waits.came:
		return &ControllerError{Came: true, Text: fmt.Sprintf("the controller connected but never wrote the bench clock's wait register within %v; in stepped pace it must wait there instead of sleeping", b.options.StartTimeout)}
	}
	return &ControllerError{Came: true, Text: fmt.Sprintf("the controller stopped waiting at %v of simulated time: nothing for %v", b.now(), b.options.StallTimeout)}
}

// refusedWait tells of a wait that was refused, as an addition to what became of the controller.
func (b *Bench) refusedWait() string {
	if b.traffic.RefusedWait == "" {
		return ""
	}
	return "; " + b.traffic.RefusedWait
}

// heard says whether any client has connected.
func (b *Bench) heard() bool {
	for _, s := range b.servers {
		if s.Stats().Accepted > 0 {
			return true
		}
	}
	return false
}

package emulator

import (
	"errors"
	"fmt"
	"sync"
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
	came    []bool        // a controller's first wait has come
	left    []bool        // a controller has ended by itself
	turns   sync.Cond     // one more controller waits, or the run is over
}

type wait struct {
	controller int
	untilMS    int64
	passed     chan struct{}
}

// await blocks until simulated time has moved on by ms, and says whether it has: it has not when
// the peer or the run ends first. The caller does not hold the mutex.
func (b *Bench) await(from modbus.Peer, ms int64) bool {
	ticks := (ms + b.stepMS - 1) / b.stepMS
	b.mutex.Lock()
	w := &wait{controller: from.Controller, untilMS: b.plant.TimeMS() + ticks*b.stepMS, passed: make(chan struct{})}
	b.waits.pending = append(b.waits.pending, w)
	b.waits.came[from.Controller] = true
	b.waits.turns.Broadcast()
	b.strideInline()
	settled := !b.idle()
	b.mutex.Unlock()
	select {
	case <-w.passed:
		if settled {
			return true
		}
	default:
	}
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
		// A controller that stands still gets no answer: it hears what is due when it goes on.
		if w.untilMS <= now && !b.away(w.controller) {
			close(w.passed)
		} else {
			kept = append(kept, w)
		}
	}
	b.waits.pending = kept
}

func (b *Bench) now() time.Duration { return time.Duration(b.plant.TimeMS()) * time.Millisecond }

// Exit is what the channel that Run is given may yield where there are several controllers: which of them has
// ended, and how.
type Exit struct {
	Controller int
	Err        error
}

func (e *Exit) Error() string { return fmt.Sprint(e.Err) }

func (b *Bench) exited(err error) error {
	b.mutex.Lock()
	defer b.mutex.Unlock()
	who := 0
	var exit *Exit
	if errors.As(err, &exit) {
		who, err = exit.Controller, exit.Err
	}
	var beyond *runaway
	if errors.As(err, &beyond) {
		return &ControllerError{Came: b.heard(who), Text: fmt.Sprintf("%s was stopped at %v of simulated time: %v", b.called(who), b.now(), beyond)}
	}
	how := b.called(who) + " ended with exit code 0"
	if err != nil {
		how = b.called(who) + " ended with " + err.Error()
	}
	if !b.heard(who) {
		return &ControllerError{Text: how + " before it connected to any device"}
	}
	return &ControllerError{Came: true, Text: fmt.Sprintf("%s at %v of simulated time; the scenario lasts %v", how, b.now(), b.scenario.Lasts) + b.refusedWait()}
}

func (b *Bench) stalled() error {
	b.mutex.Lock()
	defer b.mutex.Unlock()
	who := 0
	for b.waitsBelow(who+1) && who+1 < b.controllers() {
		who++
	}
	name := b.called(who)
	switch {
	case !b.heard(who):
		return b.neverCame(who)
	case b.refusedWait() != "":
		return &ControllerError{Came: true, Text: fmt.Sprintf("%s stopped waiting at %v of simulated time", name, b.now()) + b.refusedWait()}
	case b.options.Pace == Follow:
		return &ControllerError{Came: true, Text: fmt.Sprintf("%s stopped polling at %v of simulated time: it has read nothing again for %v", name, b.now(), b.options.StallTimeout)}
	case !b.waits.came[who]:
		return &ControllerError{Came: true, Text: fmt.Sprintf("%s connected but never wrote the bench clock's wait register within %v; in stepped pace it must wait there instead of sleeping", name, b.options.StartTimeout)}
	}
	return &ControllerError{Came: true, Text: fmt.Sprintf("%s stopped waiting at %v of simulated time: nothing for %v", name, b.now(), b.options.StallTimeout)}
}

func (b *Bench) neverCame(controller int) error {
	return &ControllerError{Text: fmt.Sprintf("%s never connected to any device within %v", b.called(controller), b.options.StartTimeout)}
}

// refusedWait tells of a wait that was refused, as an addition to what became of the controller.
func (b *Bench) refusedWait() string {
	for _, t := range b.waited {
		if t.RefusedWait != "" {
			return "; " + t.RefusedWait
		}
	}
	return ""
}

// heard says whether a controller has connected to anything.
func (b *Bench) heard(controller int) bool {
	for _, s := range b.reached[controller] {
		if s.Stats().Accepted > 0 {
			return true
		}
	}
	return false
}

package emulator

import (
	"fmt"
	"math"
	"time"

	"kilter/scenarios"
)

// Controllers are those under test, as far as the bench can do anything to them.
type Controllers interface {
	// Do carries out a deed, and returns when it is done.
	Do(scenarios.Deed) error
	// Collect takes in what they have printed so far, before time moves on.
	Collect()
}

// trials are what the scenario does to the controller's process.
type trials struct {
	toCome     []scenarios.Event
	controller Presence
	doubled    bool              // the scenario starts a second copy
	copied     bool              // the second copy runs
	underway   bool              // something is being done to the controller
	passedOver []scenarios.Event // what nobody could do
}

func newTrials(sc *scenarios.Scenario, opt Options) trials {
	t := trials{}
	for _, e := range sc.Events {
		if e.Trial == nil || e.Trial.Deed == scenarios.JumpClock {
			continue
		}
		t.toCome = append(t.toCome, e)
		t.doubled = t.doubled || opt.Controllers != nil && len(opt.Several) < 2 && e.Trial.Deed == scenarios.SecondCopy
	}
	switch {
	case !opt.Expect:
	case opt.Controllers != nil && sc.StartsLate():
		t.controller = Absent
	default:
		t.controller = Started
	}
	return t
}

// nextTrialMS is when something is next done to the controller [ms]. The caller holds the mutex.
func (b *Bench) nextTrialMS() int64 {
	if len(b.trials.toCome) == 0 {
		return math.MaxInt64
	}
	return b.trials.toCome[0].At.Milliseconds()
}

// attempt does all that is due to the controller. The caller does not hold the mutex, and time stands still meanwhile.
func (b *Bench) attempt() error {
	b.mutex.Lock()
	defer b.mutex.Unlock()
	t := &b.trials
	t.underway = true
	defer func() { t.underway = false }()
	for b.nextTrialMS() <= b.plant.TimeMS() {
		e := t.toCome[0]
		t.toCome = t.toCome[1:]
		if b.options.Controllers == nil {
			t.passedOver = append(t.passedOver, e)
			continue
		}
		b.mutex.Unlock()
		err := b.inflict(e.Trial.Deed)
		b.mutex.Lock()
		if err != nil {
			return err
		}
	}
	return nil
}

// collect takes in what the controller has printed at this instant.
func (b *Bench) collect() {
	if b.options.Controllers != nil {
		b.options.Controllers.Collect()
	}
}

// inflict carries out a deed.
func (b *Bench) inflict(deed scenarios.Deed) error {
	b.options.Controllers.Collect()
	// Who starts, or goes on, may ask and wait before Do returns, and is there from the first on. Who ends, or stands
	// still, is there until it does.
	b.expect(deed)
	if err := b.options.Controllers.Do(deed); err != nil {
		return err
	}
	b.miss(deed)
	switch deed {
	case scenarios.Kill:
		return b.silence(firstCopy)
	case scenarios.CopyEnds:
		return b.silence(secondCopy)
	}
	return nil
}

// expect notes who is there once a deed is carried out.
func (b *Bench) expect(deed scenarios.Deed) {
	b.mutex.Lock()
	defer b.mutex.Unlock()
	switch t := &b.trials; deed {
	case scenarios.Start:
		t.controller = Started
	case scenarios.Continue:
		t.controller = Present
	case scenarios.SecondCopy:
		t.copied = true
	}
}

// miss notes who is no longer there now that a deed is done.
func (b *Bench) miss(deed scenarios.Deed) {
	b.mutex.Lock()
	defer b.mutex.Unlock()
	switch t := &b.trials; deed {
	case scenarios.Kill:
		t.controller, t.copied = Absent, false
	case scenarios.Pause:
		t.controller = Absent
	case scenarios.CopyEnds:
		t.copied = false
	}
	b.waits.turns.Broadcast()
}

// silence waits until the bench has seen the connections of a killed controller end, and of those after it: what it
// had asked has then been recorded, at this instant and not a race later.
func (b *Bench) silence(from int) error {
	if b.options.Pace > 0 {
		return nil
	}
	deadline := time.Now().Add(b.options.StallTimeout)
	for ; b.open(from) > 0; time.Sleep(200 * time.Microsecond) {
		if time.Now().After(deadline) {
			return fmt.Errorf("%s was killed, and somebody is still connected: in pace %s only the controller may be", b.called(from), b.options.Pace)
		}
	}
	return nil
}

// open counts the connections over TCP; nobody sees who leaves a serial line.
func (b *Bench) open(from int) (sum int) {
	reached := b.reached[from:]
	if len(b.options.Several) > 1 {
		reached = reached[:1] // the others go on
	}
	for _, servers := range reached {
		for _, s := range servers {
			if s.Addr().Network() == "tcp" {
				sum += s.Stats().Open
			}
		}
	}
	return sum
}

// PassedOver tells of what the scenario would do to the controller and the bench could not.
func (b *Bench) PassedOver() []string {
	b.mutex.Lock()
	defer b.mutex.Unlock()
	var notes []string
	for _, e := range b.trials.passedOver {
		notes = append(notes, fmt.Sprintf("at %v: %s: not applicable, since the bench has not started the controller", e.At, e.Text))
	}
	if b.clockShift != 0 && b.clock != nil && !b.clock.dated {
		notes = append(notes, "a jump of the clock: not applicable, since the controller does not take the time of day from the bench clock")
	}
	return notes
}

package scenarios

import (
	"cmp"
	"slices"
	"strings"
	"time"
)

// Trial is something that happens to the controller under test itself.
type Trial struct {
	Deed Deed
	By   time.Duration // how far its clock jumps
}

// Deed says what is done to a controller.
type Deed uint8

// The deeds.
const (
	Kill       Deed = iota // its process ends without a warning, and all that it has started
	Start                  // it is started: late, or again
	Pause                  // its process stands still
	Continue               // it goes on, as if nothing had been
	SecondCopy             // a second copy of it is started beside it
	CopyEnds               // the second copy is killed
	JumpClock              // the date and time of day that the bench clock tells jump
)

// deeds are the deeds' words in a scenario file, in their order.
var deeds = []string{"kill", "start", "pause", "continue", "second_copy", "copy_ends", "clock"}

// String gives the deed's word in a scenario file.
func (d Deed) String() string { return deeds[d] }

// file shows a trial in the words of the file.
func (t *Trial) file() whatFile {
	if t.Deed == JumpClock {
		return whatFile{Clock: lasting(t.By)}
	}
	return whatFile{Word: words(t.Deed.String())}
}

// StartsLate says whether the scenario begins without its controller.
func (s *Scenario) StartsLate() bool {
	for i := range s.Events {
		if t := s.Events[i].Trial; t != nil && t.Deed <= Continue {
			return t.Deed == Start
		}
	}
	return false
}

// staged is a trial with its place in the file.
type staged struct {
	at   time.Duration
	deed Deed
	spot spot
}

// trial appends what happens to the controller, and what ends it where it lasts.
func (b *eventBuilder) trial(e Event, verb string, what *entry[whatFile]) {
	w := &what.Value
	begin := func(t Trial) {
		one := e
		one.Trial = &t
		b.append(one)
		b.trials = append(b.trials, staged{e.At, t.Deed, what.At})
	}
	lasts := func(q quantity, end Deed) {
		if !q.set {
			return
		}
		e.At, e.Text = e.At+seconds(q.v), ""
		switch {
		case e.At%b.step != 0:
			b.add(q.at, shownAs("time", q.v), "a multiple of the step of "+shownAs("time", b.step.Seconds()), "")
		case e.At < b.lasts:
			begin(Trial{Deed: end})
		}
	}
	deed := Deed(slices.Index(deeds, verb))
	if deed == JumpClock && w.Clock.v == 0 {
		b.add(w.Clock.at, shownAs("time", 0), "a time other than 0", "like {clock: 1 h}")
	}
	begin(Trial{Deed: deed, By: seconds(w.Clock.v)})
	switch deed {
	case Kill:
		lasts(w.Kill, Start)
	case Pause:
		lasts(w.Pause, Continue)
	case SecondCopy:
		lasts(w.Copy, CopyEnds)
	}
}

// rehearse says which of the controller's trials cannot happen when they should: what is dead cannot be killed.
func (b *eventBuilder) rehearse() {
	slices.SortStableFunc(b.trials, func(x, y staged) int { return cmp.Compare(x.at, y.at) })
	const absent, running, paused = "a controller that does not run", "a controller that runs", "a paused controller"
	state, copied := running, false
	if startsLate(b.trials) {
		state = absent
	}
	for _, t := range b.trials {
		var may []string
		next := state
		switch t.deed {
		case Kill:
			may, next, copied = []string{running, paused}, absent, false
		case Start:
			may, next = []string{absent}, running
		case Pause:
			may, next = []string{running}, paused
		case Continue:
			may, next = []string{paused}, running
		case SecondCopy:
			if copied {
				b.add(t.spot, "second_copy beside a second copy", "one second copy at a time", "")
			}
			may, copied = []string{running, paused}, true
		case CopyEnds:
			if !copied {
				b.add(t.spot, "copy_ends without a second copy", "second_copy before it", "")
			}
			copied = false
		}
		if may != nil && !slices.Contains(may, state) {
			b.add(t.spot, t.deed.String()+" of "+state, t.deed.String()+" of "+strings.Join(may, " or "), "")
		}
		state = next
	}
}

// startsLate says whether the first thing that happens to the controller's process is its start.
func startsLate(trials []staged) bool {
	for _, t := range trials {
		if t.deed <= Continue {
			return t.deed == Start
		}
	}
	return false
}

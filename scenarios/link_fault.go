package scenarios

import (
	"slices"
	"time"
)

// LinkFault is what the scenario does to the link of a device on the wire.
type LinkFault struct {
	Kind  LinkFaultKind
	Lasts time.Duration
	Delay time.Duration // of a slow link's replies, of each byte of a dripping one's, and the longest of a jittery one's
}

// LinkFaultKind says what is wrong with a link.
type LinkFaultKind uint8

// The kinds of link fault. From WrongTransaction on, requests are carried out and their replies are spoiled.
const (
	Silent           LinkFaultKind = iota // requests are taken and never answered
	Slow                                  // each reply takes a time longer
	Jittery                               // each reply takes a random time longer
	Refuses                               // connections are closed at their next request
	Resets                                // connections are reset at their next request
	Busy                                  // requests are answered with exception 06
	Stale                                 // registers show the snapshot of when the fault began
	Frozen                                // as stale, and writes are answered and change nothing
	Garbage                               // random bytes come in place of replies
	WrongTransaction                      // replies belong to another request
	WrongUnit                             // replies come from another unit
	WrongCount                            // replies claim more than they hold
	HalfReply                             // the first half of a reply comes
	Dripping                              // replies come byte by byte
	HangsUp                               // new connections are closed as they are accepted
)

// linkFaults are the faults' words in a scenario file, in the order of their kinds.
var linkFaults = []string{
	"silent", "slow", "jittery", "refuses", "resets", "busy", "stale", "frozen", "garbage",
	"wrong_transaction", "wrong_unit", "wrong_count", "half_reply", "dripping", "hangs_up",
}

// String gives the fault's word in a scenario file.
func (k LinkFaultKind) String() string { return linkFaults[k] }

// Spoils says whether requests are carried out and their replies spoiled.
func (k LinkFaultKind) Spoils() bool { return k >= WrongTransaction }

// delays says whether a fault is one of time.
func (k LinkFaultKind) delays() bool { return k == Slow || k == Jittery || k == Dripping }

// likelyDelay is a delay to begin with, as a file has it.
func (k LinkFaultKind) likelyDelay() string {
	if k == Dripping {
		return "20 ms"
	}
	return "800 ms"
}

// fits says whether such a thing can happen on a link.
func (k LinkFaultKind) fits(l Link) bool {
	switch k {
	case WrongTransaction:
		return l != RTULine && l != RTUOverTCP
	case HangsUp:
		return l != RTULine
	}
	return true
}

// reached are the wires that a fault of a link is on: all of them for the controller's own.
func (b *eventBuilder) reached(name string) []*Wire {
	var wires []*Wire
	for _, d := range b.site.Devices {
		if d.Wire != nil && (d.Name == name || name == ControllerName) {
			wires = append(wires, d.Wire)
		}
	}
	return wires
}

// linkFault makes a fault of the links on wires.
func (b *eventBuilder) linkFault(kind LinkFaultKind, wires []*Wire, w *whatFile) *LinkFault {
	if len(wires) == 0 {
		b.add(w.Fault.at, "a link fault of a device that is not on the wire", "a device with a wire", "")
	}
	if slices.ContainsFunc(wires, func(x *Wire) bool { return !kind.fits(x.Link) }) {
		b.add(w.Fault.at, kind.String()+" on a serial line", "a fault that the line can have", "a line has no transactions, and nothing to hang up")
	}
	if !w.Lasts.set {
		b.add(w.Fault.at, "a "+kind.String()+" link without end", "lasts beside it", "lasts: 30 s")
	}
	delay := seconds(w.Delay.v)
	tooSlow := slices.IndexFunc(wires, func(x *Wire) bool { return delay >= x.ReplyTimeout })
	switch {
	case !kind.delays():
	case !w.Delay.set:
		b.add(w.Fault.at, "a "+kind.String()+" link without a delay", "delay beside it", "delay: "+kind.likelyDelay())
	case kind == Slow && tooSlow >= 0:
		b.add(w.Delay.at, shownAs("time", w.Delay.v), "less than the reply_timeout of "+shownAs("time", wires[tooSlow].ReplyTimeout.Seconds()),
			"a reply that comes later is none: write silent")
	}
	return &LinkFault{Kind: kind, Lasts: seconds(w.Lasts.v), Delay: delay}
}

package emulator

// Presence is what is known of the controller.
type Presence uint8

// The kinds of presence.
const (
	Nobody  Presence = iota // none is expected, and none was heard
	Started                 // it is expected, and has not been heard on the wire yet
	Present                 // it was heard
	Absent                  // it does not run yet, was killed, or stands still
)

// present notes that the controller was heard on the wire. The caller holds the mutex.
func (b *Bench) present() {
	if b.trials.controller != Absent {
		b.trials.controller = Present
	}
}

// The controllers' numbers where the scenario starts a second copy of one.
const firstCopy, secondCopy = 0, 1

// away says whether a controller does not run, or stands still. The caller holds the mutex.
func (b *Bench) away(controller int) bool {
	switch {
	case controller == firstCopy:
		return b.trials.controller == Absent
	case b.trials.doubled:
		return !b.trials.copied
	}
	return false
}

// awaited says whether somebody is to be waited for. The caller holds the mutex.
func (b *Bench) awaited() bool {
	for i := range b.controllers() {
		if !b.away(i) {
			return true
		}
	}
	return false
}

// presence is what a tick shows. The caller holds the mutex.
func (b *Bench) presence() Presence {
	if b.away(firstCopy) && b.trials.copied {
		return Present // the second copy is
	}
	return b.trials.controller
}

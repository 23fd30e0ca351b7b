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

// awaited says whether somebody is to be waited for. The caller holds the mutex.
func (b *Bench) awaited() bool { return b.trials.controller != Absent || b.trials.copies > 0 }

// presence is what a tick shows. The caller holds the mutex.
func (b *Bench) presence() Presence {
	if b.awaited() && b.trials.controller == Absent {
		return Present // the second copy is
	}
	return b.trials.controller
}

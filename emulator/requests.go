package emulator

import (
	"slices"

	"kilter/emulator/modbus"
	"kilter/scenarios"
)

// Requests counts what was asked of one device from one tick to the next.
type Requests struct {
	Place         int // of the device among those on the wire
	Reads, Writes int // answered or not
	// Exceptions counts the exception replies that the requests deserved: those of a busy link, which the
	// scenario made, are no fault of the client.
	Exceptions int
	// Illegal counts the writes to what may not be written, or of values out of range.
	Illegal int
	// Forbidden counts the writes to a device that the scenario does not let the controller command.
	Forbidden int
}

// ask counts one exchange. The caller holds the mutex.
func (b *Bench) ask(d *device, x modbus.Exchange, reads, writes bool) {
	q := &d.asked
	if q.Reads+q.Writes == 0 {
		b.inbox.asked = append(b.inbox.asked, d)
	}
	if x.Exception != 0 && !d.link.suffers(scenarios.Busy, x.Asked) {
		q.Exceptions++
	}
	if !writes {
		q.Reads++
		return
	}
	q.Writes++
	if reads { // function 17 does both
		q.Reads++
	}
	switch x.Exception {
	case modbus.IllegalFunction, modbus.IllegalDataAddress, modbus.IllegalDataValue:
		q.Illegal++
	}
	if !slices.Contains(b.scenario.Commands, d.name) {
		q.Forbidden++
	}
}

// takeRequests appends the counts since the last tick, and begins anew.
func (b *Bench) takeRequests(to []Requests) []Requests {
	asked := b.inbox.asked
	if len(asked) == 0 {
		return to
	}
	slices.SortFunc(asked, func(x, y *device) int { return x.order - y.order })
	for _, d := range asked {
		q := d.asked
		q.Place = d.order
		to = append(to, q)
		d.asked = Requests{}
	}
	b.inbox.asked = asked[:0]
	return to
}

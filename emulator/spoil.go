package emulator

import (
	"fmt"
	"time"

	"kilter/emulator/modbus"
	"kilter/scenarios"
)

// SetFault has a device's replies suffer a fault on the level of bytes from the next one on, beside
// what the scenario does to its link; the zero Fault ends it, and so does the next
// fault of that kind in the scenario. Its delays pass in simulated time. A client that misses bytes waits for
// them by its own clock, though, as nobody tells it to give up.
func (b *Bench) SetFault(device string, f modbus.Fault) error {
	for _, d := range b.devices {
		if d.name == device {
			d.setFault(f)
			return nil
		}
	}
	return fmt.Errorf("no device called %q on the wire", device)
}

// setFault has the device's replies to every controller suffer a fault.
func (d *device) setFault(f modbus.Fault) {
	for _, s := range d.servers {
		s.SetFault(d.wire.Unit, f)
	}
}

// wait passes a fault's delay in simulated time.
func (b *Bench) wait(from modbus.Peer, d time.Duration) error {
	if !b.await(from, d.Milliseconds()) {
		return modbus.ErrClose
	}
	return nil
}

// spoil has a device's replies suffer what the scenario does to them from now on. The caller holds the mutex, or is alone.
func (d *device) spoil(now time.Duration) {
	var f modbus.Fault
	active := -1
	for i, s := range d.link.spoils {
		if s.in(now) {
			active = i
		}
	}
	if active == d.spoiled {
		return
	}
	d.spoiled = active
	if active >= 0 {
		f = spoils(d.link.spoils[active].LinkFault, d.wire.ReplyTimeout)
	}
	d.setFault(f)
}

// spoils is what a fault does to replies. Where it breaks them, a client waits for a better one until it gives up: that
// costs the reply timeout, and what comes then is the end of the connection.
func spoils(f scenarios.LinkFault, replyTimeout time.Duration) modbus.Fault {
	switch f.Kind {
	case scenarios.Dripping:
		return modbus.Fault{Drip: f.Delay, Patience: replyTimeout}
	case scenarios.HangsUp:
		return modbus.Fault{Spoil: modbus.CloseOnAccept}
	}
	how := map[scenarios.LinkFaultKind]modbus.Spoil{
		scenarios.WrongTransaction: modbus.WrongTransaction,
		scenarios.WrongUnit:        modbus.WrongUnit,
		scenarios.WrongCount:       modbus.WrongCount,
		scenarios.HalfReply:        modbus.HalfReply,
	}
	return modbus.Fault{Spoil: how[f.Kind], Delay: replyTimeout, Closes: true}
}

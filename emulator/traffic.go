package emulator

import (
	"cmp"
	"encoding/binary"
	"fmt"
	"slices"

	"kilter/emulator/capture"
	"kilter/emulator/modbus"
	"kilter/emulator/registers"
	"kilter/scenarios"
)

// Write is one request to write to a device, and what became of it.
type Write struct {
	Tick       int64 // when it was asked
	Controller int
	Device     string
	Place      int // of the device among those on the wire
	Function   byte
	Register   uint16 // the first one, or the first coil
	// Values are the registers as they stood in the request, coils as 0 and 1, and the two masks of
	// function 16.
	Values  []uint16
	Outcome Outcome
	Detail  string // why it had no effect
}

// Outcome is what became of a write.
type Outcome uint8

// The outcomes.
const (
	Taken      Outcome = iota
	NotInForce         // stored, but something else keeps it from being obeyed
	Refused            // answered with an exception
	Unanswered         // since the link was sick
)

// String gives the outcome in words.
func (o Outcome) String() string {
	return [...]string{"taken", "stored, not in force", "refused", "unanswered"}[o]
}

// Traffic counts what went over the wire until the run ended.
type Traffic struct {
	// Polls count how often a controller began to read anew, see rounds.
	Polls                     int
	Reads, Writes, Exceptions int
	// Waits count the waits that were begun; RefusedWaits those that no scenario of this length can mean.
	Waits, RefusedWaits int
	LongestWaitMS       int64
	RefusedWait         string // what was wrong with the first one
	// Devices are those that were asked for anything, in the site's order, and after them gateways that were asked
	// for units that they do not have.
	Devices []DeviceTraffic
}

// Traffic tells what went over the wire so far, with all controllers.
func (b *Bench) Traffic() Traffic {
	sum := b.TrafficOf(0)
	for i := 1; i < b.controllers(); i++ {
		sum.join(b.TrafficOf(i))
	}
	return sum
}

// TrafficOf tells what went over the wire so far with the controller of that number, from 0.
func (b *Bench) TrafficOf(controller int) Traffic {
	b.mutex.Lock()
	defer b.mutex.Unlock()
	t := b.waited[controller]
	for _, d := range b.devices {
		t.add(d.talks[controller].DeviceTraffic)
	}
	for _, p := range b.shared {
		if p.controller == controller {
			t.add(p.strays.DeviceTraffic)
		}
	}
	return t
}

// add takes a device into the sum, if it was asked for anything.
func (t *Traffic) add(d DeviceTraffic) {
	if d.Requests == 0 {
		return
	}
	t.Reads += d.Reads
	t.Writes += d.Writes
	t.Exceptions += d.Exceptions
	t.Devices = append(t.Devices, d)
}

// join adds the traffic of another controller.
func (t *Traffic) join(o Traffic) {
	t.Polls += o.Polls
	t.Reads += o.Reads
	t.Writes += o.Writes
	t.Exceptions += o.Exceptions
	t.Waits += o.Waits
	t.RefusedWaits += o.RefusedWaits
	t.LongestWaitMS = max(t.LongestWaitMS, o.LongestWaitMS)
	t.RefusedWait = cmp.Or(t.RefusedWait, o.RefusedWait)
	for _, d := range o.Devices {
		i := slices.IndexFunc(t.Devices, func(x DeviceTraffic) bool { return x.Device == d.Device })
		if i < 0 {
			t.Devices = append(t.Devices, d)
		} else {
			t.Devices[i].join(d)
		}
	}
}

// Unseen are the writes that no tick has shown, since none came after them.
func (b *Bench) Unseen() []Write {
	b.mutex.Lock()
	defer b.mutex.Unlock()
	return b.takeWrites(nil)
}

// hangUp ends the account of the traffic: what a controller does after the end of the run, while
// one port after the other closes, is a race on the wall clock.
func (b *Bench) hangUp() {
	b.mutex.Lock()
	defer b.mutex.Unlock()
	b.hungUp = true
}

// takeWrites appends the writes since the last tick, in the order of the devices.
func (b *Bench) takeWrites(to []Write) []Write {
	slices.SortStableFunc(b.inbox.writes, func(x, y posted) int {
		return cmp.Or(x.order-y.order, x.Controller-y.Controller)
	})
	for _, p := range b.inbox.writes {
		to = append(to, p.Write)
	}
	b.inbox.writes = b.inbox.writes[:0]
	return to
}

// posted is a write that waits for the next tick to show it.
type posted struct {
	order int // of its device
	Write
}

// remark is what a device has to say about the write that it is at work on.
type remark struct {
	outcome Outcome
	detail  string
}

// remember keeps what became of a write until the server has answered it. The caller holds the mutex.
func (d *device) remember(from modbus.Peer, image *registers.Image, table registers.Table, address uint16, n int, done []registers.Signal, err error) {
	r := remark{}
	switch {
	case err != nil:
		r = remark{Refused, err.Error()}
	case len(done) == 0:
		if point, needs := image.Idle(table, address, n); point != "" {
			r = remark{NotInForce, point + " needs " + needs}
		}
	default:
		ignored := slices.DeleteFunc(slices.Clone(done), isSetting)
		if len(ignored) > 0 && !slices.ContainsFunc(ignored, d.obeys) {
			r = remark{NotInForce, fmt.Sprintf("the bench's %ss do not obey %s", d.kind, ignored[0])}
		}
	}
	if r.outcome != Taken { // what nobody remarks on is taken
		d.remark(from, r)
	}
}

// wornOut refuses a write to a register that has had its last. The caller holds the mutex.
func (d *device) wornOut(from modbus.Peer, at uint16) error {
	d.remark(from, remark{Refused, fmt.Sprintf("register %d is worn out after %d writes", at, d.wire.Endurance)})
	return modbus.ServerDeviceFailure
}

// ignore answers a write that a frozen device takes and does nothing with. The caller holds the mutex.
func (d *device) ignore(from modbus.Peer) error {
	d.remark(from, remark{NotInForce, "the device is frozen"})
	return nil
}

// remark notes something about the write of a connection. The caller holds the mutex.
func (d *device) remark(from modbus.Peer, r remark) {
	if d.remarks == nil {
		d.remarks = map[caller]remark{}
	}
	d.remarks[callerOf(from)] = r
}

// isSetting says that a signal commands nothing by itself: it says how long or whether another is obeyed.
func isSetting(s registers.Signal) bool {
	switch s {
	case registers.ReversionTime, registers.OutputReversionTime, registers.ConnectReversionTime, registers.Enable:
		return true
	}
	return false
}

// obeys says whether a command changes anything about a device of this kind.
func (d *device) obeys(s registers.Signal) bool {
	if s == registers.MaxCurrent {
		return d.kind == scenarios.Charger
	}
	return d.kind == scenarios.Inverter
}

// record takes one exchange with a device into account.
func (b *Bench) record(d *device, x modbus.Exchange) {
	b.mutex.Lock()
	defer b.mutex.Unlock()
	from := callerOf(x.Peer)
	said, remarked := d.remarks[from]
	delete(d.remarks, from)
	if b.hungUp {
		return
	}
	b.present()
	b.answered(1+d.order, x)
	if b.options.Pace != Follow && b.rounds[from.controller].begins(d, x) { // else it has been looked at before
		b.waited[from.controller].Polls++
	}
	reads, writes := directions(x.Function)
	d.talks[from.controller].count(x, reads, writes)
	b.ask(d, x, reads, writes)
	if !writes {
		return
	}
	w := b.wrote(x, d.name, d.order)
	switch {
	case x.Exception != 0:
		w.Outcome, w.Detail = Refused, x.Exception.String()
		if remarked {
			w.Detail += ": " + said.detail
		}
	case unanswered(x) && !remarked:
		w.Outcome, w.Detail = Unanswered, "no reply left the device"
	case remarked:
		w.Outcome, w.Detail = said.outcome, said.detail
	}
	b.inbox.writes = append(b.inbox.writes, posted{d.order, w})
}

// recordStray takes one exchange into account that was meant for a unit which nobody has.
func (b *Bench) recordStray(p *port, x modbus.Exchange) {
	first := p.units[0]
	b.asked(1+first.order, x)
	b.mutex.Lock()
	defer b.mutex.Unlock()
	if b.hungUp {
		return
	}
	b.answered(1+first.order, x)
	reads, writes := directions(x.Function)
	p.strays.count(x, reads, writes)
	if !writes {
		return
	}
	w := b.wrote(x, p.strays.Device, first.order)
	w.Outcome, w.Detail = Refused, fmt.Sprintf("%v: it has no unit %d", x.Exception, x.Unit)
	b.inbox.writes = append(b.inbox.writes, posted{first.order, w})
}

// wrote is what an exchange asked to write, without what became of it.
func (b *Bench) wrote(x modbus.Exchange, device string, place int) Write {
	w := Write{Tick: x.Asked.Milliseconds() / b.stepMS, Controller: x.Peer.Controller, Device: device, Place: place, Function: x.Function}
	w.Register, w.Values = written(x.Function, x.Request[mbapLength+1:])
	return w
}

// asked puts a request into the capture. Endpoint 0 is the clock, and the devices follow.
func (b *Bench) asked(endpoint int, x modbus.Exchange) {
	if b.options.Capture == nil {
		return
	}
	b.mutex.Lock()
	defer b.mutex.Unlock()
	if !b.hungUp {
		b.options.Capture.Ask(x.Asked, capture.Connection{Endpoint: endpoint, Client: x.Peer.Controller, Number: x.Peer.Conn}, x.Request)
	}
}

// answered puts what became of a request into the capture. The caller holds the mutex.
func (b *Bench) answered(endpoint int, x modbus.Exchange) {
	if b.options.Overhear != nil {
		name := ""
		if endpoint > 0 {
			name = b.devices[endpoint-1].name
		}
		b.options.Overhear(name, x)
	}
	if b.options.Capture == nil {
		return
	}
	end := capture.Stays
	switch x.Ended {
	case modbus.ErrClose:
		end = capture.HangsUp
	case modbus.ErrReset:
		end = capture.Resets
	}
	b.options.Capture.Answer(x.Answered, capture.Connection{Endpoint: endpoint, Client: x.Peer.Controller, Number: x.Peer.Conn}, x.Request, x.Reply, end)
}

// mbapLength is the length of the header before a request's function code.
const mbapLength = 7

// directions says whether a function reads, and whether it writes.
func directions(function byte) (reads, writes bool) {
	switch function {
	case 0x05, 0x06, 0x0F, 0x10, 0x16:
		return false, true
	case 0x17:
		return true, true
	}
	return true, false
}

// written takes apart what a request wants to write, as far as it goes: the request may be malformed.
func written(function byte, data []byte) (register uint16, values []uint16) {
	if function == 0x17 {
		data = data[min(4, len(data)):]
	}
	if len(data) < 2 {
		return 0, nil
	}
	register, data = binary.BigEndian.Uint16(data), data[2:]
	switch function {
	case 0x10, 0x17:
		data = data[min(3, len(data)):]
	case 0x05:
		if len(data) == 2 {
			return register, []uint16{uint16(data[0] & 1)}
		}
	case 0x0F:
		if len(data) < 3 {
			return register, nil
		}
		n := min(int(binary.BigEndian.Uint16(data)), 8*len(data[3:]))
		for i := range n {
			values = append(values, uint16(data[3+i/8]>>(i%8)&1))
		}
		return register, values
	}
	for ; len(data) >= 2; data = data[2:] {
		values = append(values, binary.BigEndian.Uint16(data))
	}
	return register, values
}

package emulator

import (
	"hash/fnv"
	"math/rand/v2"
	"slices"
	"sync/atomic"
	"time"

	"kilter/emulator/modbus"
	"kilter/scenarios"
)

// link stands between a device and its clients: the manners of the device's interface, and what
// the scenario does to the line.
type link struct {
	wire    scenarios.Wire
	faults  *linkFaults   // of requests
	spoils  []linkFault   // of replies
	random  *rand.Rand    // of delays and of garbage
	clients []modbus.Peer // those that are served, where their number is limited
	served  time.Duration // when the last request was answered
	asked   bool          // one was
	worn    map[cell]int  // how often each register was written, where that is limited
}

// linkFault is a fault of the scenario in its time.
type linkFault struct {
	scenarios.Window
	scenarios.LinkFault
}

// linkFaults are looked at without the bench's mutex, and grow when somebody at the panel adds one.
type linkFaults struct{ list atomic.Pointer[[]linkFault] }

func (l *linkFaults) all() []linkFault {
	if p := l.list.Load(); p != nil {
		return *p
	}
	return nil
}

// add is called by one at a time.
func (l *linkFaults) add(f linkFault) {
	longer := append(slices.Clone(l.all()), f)
	l.list.Store(&longer)
}

func (f linkFault) in(now time.Duration) bool { return f.From <= now && now < f.To }

// cell is a register or a coil.
type cell struct {
	table   modbus.Table
	address uint16
}

// newLink makes the link of a device. Its draws are its own: what happens to another link shifts
// none of them.
func newLink(sc *scenarios.Scenario, d scenarios.Device) link {
	name := fnv.New64a()
	name.Write([]byte(d.Name + " link"))
	l := link{wire: *d.Wire, faults: &linkFaults{}, random: rand.New(rand.NewPCG(sc.Seed, name.Sum64())), worn: map[cell]int{}}
	for _, e := range sc.Events {
		if !e.IsLinkOf(d.Name) {
			continue
		}
		l.add(e)
	}
	return l
}

// add takes in what a scenario does to the link.
func (l *link) add(e scenarios.Event) {
	f := linkFault{scenarios.Window{From: e.At, To: e.At + e.Link.Lasts}, *e.Link}
	if f.Kind.Spoils() {
		l.spoils = append(l.spoils, f)
	} else {
		l.faults.add(f)
	}
}

// plain says that nothing ever stands between the device and its clients.
func (l *link) plain() bool {
	return len(l.faults.all()) == 0 && l.wire.Slow == 0 && l.wire.Gap == 0 && l.wire.Clients == 0 && l.wire.Endurance == 0
}

// suffers says whether the link has a fault at an instant.
func (l *link) suffers(kind scenarios.LinkFaultKind, now time.Duration) bool {
	return slices.ContainsFunc(l.faults.all(), func(f linkFault) bool { return f.Kind == kind && f.in(now) })
}

// still says whether measured registers stand still at an instant.
func (l *link) still(now time.Duration) bool {
	return l.suffers(scenarios.Stale, now) || l.suffers(scenarios.Frozen, now)
}

// verdict says what becomes of a request, and how long that takes. It is called once a request.
// A request that ends with an error never reaches the device; why says it for the record.
func (l *link) verdict(now time.Duration) (delay time.Duration, why string, err error) {
	delay = l.wire.Slow
	for _, f := range l.faults.all() {
		if !f.in(now) {
			continue
		}
		switch f.Kind {
		case scenarios.Silent:
			return l.wire.ReplyTimeout, "the device was silent", modbus.ErrClose
		case scenarios.Refuses:
			return 0, "the connection was refused", modbus.ErrClose
		case scenarios.Resets:
			return 0, "the connection was reset", modbus.ErrReset
		case scenarios.Busy:
			return delay, "the link is busy", modbus.ServerDeviceBusy
		case scenarios.Garbage:
			return l.wire.ReplyTimeout, "garbage came in place of a reply", garbled{modbus.RawReply(l.garbage())}
		case scenarios.Slow:
			delay += f.Delay
		case scenarios.Jittery:
			delay += time.Duration(l.random.Int64N(int64(f.Delay) + 1))
		}
	}
	if delay >= l.wire.ReplyTimeout {
		return l.wire.ReplyTimeout, "the reply took longer than the reply timeout", modbus.ErrClose
	}
	if l.asked && now-l.served < l.wire.Gap {
		return delay, "the request came too soon after the one before", modbus.ServerDeviceBusy
	}
	return delay, "", nil
}

// garbled is a link that delivers garbage, after which client and server have lost one another.
type garbled struct{ raw modbus.RawReply }

func (garbled) Error() string     { return "garbage in place of a reply" }
func (g garbled) Unwrap() []error { return []error{g.raw, modbus.ErrClose} }

// garbage draws bytes for a reply: as many as the shortest frame has, or some more.
func (l *link) garbage() []byte {
	raw := make([]byte, 8+l.random.IntN(24))
	for i := range raw {
		raw[i] = byte(l.random.Uint32())
	}
	return raw
}

// Enter lets a request through to the device, or ends it, in the time that this takes.
func (d *device) Enter(x modbus.Exchange) error {
	b := d.bench
	b.asked(1+d.order, x)
	if b.options.Pace == Follow {
		if err := b.follow(d, x); err != nil {
			return err
		}
	}
	if d.link.plain() {
		return nil // without the mutex, for which a thousand devices would queue
	}
	if d.contended() && !b.turn(x.Peer) {
		return d.turnAway(x.Peer, "the run ended", modbus.ErrClose)
	}
	if !d.admit(x.Peer) {
		return d.turnAway(x.Peer, "another client is served", modbus.ErrClose)
	}
	b.mutex.Lock()
	delay, why, err := d.link.verdict(b.now())
	b.mutex.Unlock()
	if delay > 0 && !b.await(x.Peer, delay.Milliseconds()) {
		return d.turnAway(x.Peer, "the client went away", modbus.ErrClose)
	}
	if err != nil {
		return d.turnAway(x.Peer, why, err)
	}
	b.mutex.Lock()
	defer b.mutex.Unlock()
	d.link.served, d.link.asked = b.now(), true
	return nil
}

// Holds says that a request may take its time, or have to wait for another client to leave.
func (d *device) Holds() bool {
	if d.wire.Slow > 0 || d.wire.Clients > 0 || d.bench.options.Pace == Follow || d.contended() {
		return true
	}
	now := time.Duration(d.bench.shownMS.Load()) * time.Millisecond
	return slices.ContainsFunc(d.link.faults.all(), func(f linkFault) bool { return f.in(now) })
}

// turnAway ends a request that does not reach the device, and notes why.
func (d *device) turnAway(from modbus.Peer, why string, err error) error {
	d.bench.mutex.Lock()
	defer d.bench.mutex.Unlock()
	d.remark(from, remark{Unanswered, why})
	return err
}

// leaving is how long on the wall clock a client that has closed its connection may take to be
// seen to have left. It costs no simulated time, and keeps the race between the end of one
// connection and the first request on the next from deciding who is served.
const leaving = 250 * time.Millisecond

// admit says whether a client is among those that the device serves at once.
func (d *device) admit(from modbus.Peer) bool {
	if d.wire.Clients == 0 {
		return true
	}
	patience := time.NewTimer(leaving)
	defer patience.Stop()
	look := time.NewTicker(time.Millisecond)
	defer look.Stop()
	for {
		if d.serves(from) {
			return true
		}
		select {
		case <-look.C:
		case <-from.Done:
			return false
		case <-patience.C:
			return false
		}
	}
}

// serves takes a client in if there is room.
func (d *device) serves(from modbus.Peer) bool {
	d.bench.mutex.Lock()
	defer d.bench.mutex.Unlock()
	l := &d.link
	l.clients = slices.DeleteFunc(l.clients, func(p modbus.Peer) bool {
		select {
		case <-p.Done:
			return true
		default:
			return false
		}
	})
	if slices.ContainsFunc(l.clients, func(p modbus.Peer) bool { return callerOf(p) == callerOf(from) }) {
		return true
	}
	if len(l.clients) >= d.wire.Clients {
		return false
	}
	l.clients = append(l.clients, from)
	return true
}

// worn returns the first of n registers from an address on that has had its last write, if any.
// The caller holds the mutex.
func (d *device) worn(table modbus.Table, address uint16, n int) (out uint16, is bool) {
	if d.wire.Endurance == 0 {
		return 0, false
	}
	for i := range n {
		if at := address + uint16(i); d.link.worn[cell{table, at}] >= d.wire.Endurance {
			return at, true
		}
	}
	return 0, false
}

// wear counts a write that was taken. The caller holds the mutex.
func (d *device) wear(table modbus.Table, address uint16, n int) {
	if d.wire.Endurance == 0 {
		return
	}
	for i := range n {
		d.link.worn[cell{table, address + uint16(i)}]++
	}
}

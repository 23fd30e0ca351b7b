package emulator

import (
	"fmt"

	"kilter/emulator/registers"
	"kilter/scenarios"
)

// replay plays a record in the place of the controllers that made it.
type replay struct {
	record         *Record
	commands, seen int // how far it has come
	devices        map[string]*device
}

func newReplay(b *Bench) (*replay, error) {
	r := &replay{record: b.options.Replay, devices: make(map[string]*device, len(b.devices))}
	for _, d := range b.devices {
		r.devices[d.name] = d
	}
	for i := range r.record.Commands {
		if name := r.record.Commands[i].Device; r.devices[name] == nil {
			return nil, fmt.Errorf("the record commands %q, and the scenario has no such device on the wire", name)
		}
	}
	for _, s := range r.record.Seen {
		if s.Place < 0 || s.Place >= len(b.devices) {
			return nil, fmt.Errorf("the record tells of device %d on the wire, and the scenario has %d", s.Place+1, len(b.devices))
		}
	}
	return r, nil
}

// show fills in what a tick shows of controllers.
func (r *replay) show(t *Tick, tick int64) {
	t.Writes, t.Requests, t.Reads = t.Writes[:0], t.Requests[:0], t.Reads[:0]
	for ; r.seen < len(r.record.Seen) && r.record.Seen[r.seen].Tick <= tick; r.seen++ {
		s := &r.record.Seen[r.seen]
		switch s.What {
		case SawController:
			t.Controller = Presence(s.Number)
		case SawWritten, SawRefused:
			w := Write{Tick: tick, Place: s.Place, Register: uint16(s.Signal), Values: make([]uint16, s.Number)}
			if s.What == SawRefused {
				w.Outcome = Refused
			}
			t.Writes = append(t.Writes, w)
		case SawTold:
			t.Reads = append(t.Reads, Read{Tick: tick - int64(s.Number), Place: s.Place, Signal: registers.Signal(s.Signal), Told: s.Told, True: s.True})
		default:
			if n := len(t.Requests); n == 0 || t.Requests[n-1].Place != s.Place {
				t.Requests = append(t.Requests, Requests{Place: s.Place})
			}
			*t.Requests[len(t.Requests)-1].count(s.What) = s.Number
		}
	}
}

// count is the count of a kind.
func (q *Requests) count(what What) *int {
	switch what {
	case SawReads:
		return &q.Reads
	case SawWrites:
		return &q.Writes
	case SawExceptions:
		return &q.Exceptions
	case SawIllegal:
		return &q.Illegal
	}
	return &q.Forbidden
}

// drain lets the plant obey what was commanded at this tick. What a device forgets by itself it forgets again.
func (r *replay) drain(b *Bench) {
	tick := b.plant.Tick()
	for ; r.commands < len(r.record.Commands) && r.record.Commands[r.commands].Tick <= tick; r.commands++ {
		c := r.record.Commands[r.commands]
		if c.Forgotten {
			continue
		}
		d := r.devices[c.Device]
		c.Place = d.order
		b.obey(d, c.Signal, c.Value)
		if d.kind == scenarios.Inverter && !c.Lapsed {
			b.plant.Heard(d.index)
		}
		b.tickSeen.Commands = append(b.tickSeen.Commands, c)
	}
}

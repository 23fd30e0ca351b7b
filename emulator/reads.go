package emulator

import (
	"math"
	"slices"

	"kilter/emulator/modbus"
	"kilter/emulator/registers"
	"kilter/physics"
	"kilter/scenarios"
)

// Read is what a controller learnt from a device between two ticks: one of the values that it may steer by.
type Read struct {
	Tick   int64 // when it was asked
	Place  int   // of the device among those on the wire
	Signal registers.Signal
	// Told is the value in inside units and sign, before a register's scale rounds it; True is what was so at that time.
	Told, True float64
}

// steering are the signals that a controller may steer by.
var steering = [...]registers.Signal{registers.ACPower, registers.SOC, registers.CheapSlot}

// glimpse is one point that shows such a signal, and what was read there last.
type glimpse struct {
	signal   registers.Signal
	table    registers.Table
	from, to uint32 // its registers, the end excluded
	read     Read
	fresh    bool // since the last tick
}

// glimpses finds the points of a device's registers.
func glimpses(im *registers.Image) (list []glimpse) {
	for _, p := range im.Points() {
		if slices.Contains(steering[:], p.Signal) {
			list = append(list, glimpse{signal: p.Signal, table: p.Table, from: uint32(p.Address), to: uint32(p.Address) + uint32(p.Registers)})
		}
	}
	return list
}

// learn notes what a request that was answered tells its controller. The caller holds the mutex.
func (d *device) learn(im *registers.Image, table modbus.Table, address uint16, n int) {
	b := d.bench
	if len(d.glimpses) == 0 || d.order < len(b.tickSeen.Lost) && b.tickSeen.Lost[d.order] {
		return // or nobody understands the answer
	}
	from, to := uint32(address), uint32(address)+uint32(n)
	for i := range d.glimpses {
		g := &d.glimpses[i]
		if g.table != tables[table] || from > g.from || to < g.to {
			continue
		}
		told := im.Value(g.signal)
		if math.IsNaN(told) {
			continue
		}
		if !d.learning() {
			b.inbox.read = append(b.inbox.read, d)
		}
		g.read, g.fresh = Read{Tick: b.plant.Tick(), Place: d.order, Signal: g.signal, Told: told, True: d.truth(g.signal)}, true
	}
}

// learning says whether anything was read since the last tick.
func (d *device) learning() bool {
	for i := range d.glimpses {
		if d.glimpses[i].fresh {
			return true
		}
	}
	return false
}

// truth is the plant's own value of what a device measures.
func (d *device) truth(s registers.Signal) float64 {
	p := d.bench.plant
	switch {
	case s == registers.CheapSlot:
		if inside(d.bench.windows.cheap, p.TimeMS()) {
			return 1
		}
		return 0
	case d.kind == scenarios.Inverter && s == registers.SOC:
		return p.Inverters[d.index].Battery.SOC
	case d.kind == scenarios.Inverter:
		return p.Inverters[d.index].PowerW
	case d.kind == scenarios.Meter:
		m := &p.Site().Meters[d.index]
		return p.PhaseW(m.Feeder, physics.Phases(m.Phases))
	case d.kind == scenarios.Array:
		return p.Arrays[d.index].PowerW
	case d.kind == scenarios.Charger:
		return p.Chargers[d.index].PowerW
	}
	return math.NaN()
}

// takeReads appends what was learnt since the last tick, in the order of the devices.
func (b *Bench) takeReads(to []Read) []Read {
	read := b.inbox.read
	if len(read) == 0 {
		return to
	}
	slices.SortFunc(read, func(x, y *device) int { return x.order - y.order })
	for _, d := range read {
		for i := range d.glimpses {
			if g := &d.glimpses[i]; g.fresh {
				to = append(to, g.read)
				g.fresh = false
			}
		}
	}
	b.inbox.read = read[:0]
	return to
}

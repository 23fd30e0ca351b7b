package registers

import "fmt"

// Command is what a register write asks of the device, in inside units and sign.
type Command struct {
	Signal Signal
	Value  float64
	// Table and Register say which point the value was read from, Raw what stands there.
	Table    Table
	Register uint16
	Raw      uint64
	// LastsS is how many seconds the command is obeyed unless it is written again; 0 is until further notice.
	LastsS float64
	// Timeable says that the device can be told for how long it is to obey.
	Timeable bool
	// Withdrawn says that an enable register took the command away. Value is then the neutral one: the rating
	// for a limit (NaN where the rating is not known), 1 for OutputLimit and Connect, else 0.
	Withdrawn bool
}

// Write takes a write to holding registers. It is all or nothing: unless every value is valid, nothing is stored
// and nothing emitted. A valid write is stored whole; then each command that it changes is emitted once, in
// order of address, from the registers as they stand after the write. A nil emit only stores.
func (im *Image) Write(address uint16, values []uint16, emit func(Command)) error {
	return im.write(Holding, address, values, emit)
}

// WriteCoils is Write for coils; each value is 0 or 1.
func (im *Image) WriteCoils(address uint16, bits []uint16, emit func(Command)) error {
	return im.write(Coil, address, bits, emit)
}

func (im *Image) write(table Table, address uint16, values []uint16, emit func(Command)) error {
	first, end, err := im.check(table, address, values)
	if err != nil {
		return err
	}
	l := im.layout
	var room [64]bool
	heldBefore := room[:0]
	for _, i := range l.writable {
		heldBefore = append(heldBefore, im.holds(&l.fields[i]))
	}
	for i := first; i < end; i++ {
		f := &l.fields[i]
		copy(im.memory[f.at:f.at+int(f.size)], values[f.address-address:])
		im.latched[f.latch/64] |= 1 << (f.latch % 64)
	}
	if emit == nil {
		return nil
	}
	written := func(i int) bool { return i >= first && i < end }
	changed := func(i int) bool {
		f := &l.fields[i]
		return written(i) || f.need >= 0 && written(f.need) || f.also >= 0 && written(f.also) || im.renewed(i, first, end)
	}
	for n, i := range l.writable {
		f := &l.fields[i]
		if f.point.Signal == NoSignal || !changed(i) {
			continue
		}
		// The two directions of one quantity make one command.
		if f.sibling >= 0 && f.sibling < i && changed(f.sibling) {
			continue
		}
		if im.holds(f) {
			emit(im.command(f))
		} else if heldBefore[n] && !im.replaced(f) {
			emit(Command{Signal: f.point.Signal, Value: im.neutral(f.point.Signal), Table: f.point.Table,
				Register: f.address, Raw: im.raw(f), Withdrawn: true})
		}
	}
	return nil
}

// renewed tells whether a write to the fields from first to end renews the i-th command too: one that enables
// another, and lapses by the same timer while that runs.
func (im *Image) renewed(i, first, end int) bool {
	l := im.layout
	timer := l.fields[i].timer
	if timer < 0 || im.raw(&l.fields[timer]) == 0 {
		return false
	}
	for j := first; j < end; j++ {
		if f := &l.fields[j]; f.need == i && f.timer == timer && im.holds(f) {
			return true
		}
	}
	return false
}

// replaced tells whether another point commands the signal of the field now.
func (im *Image) replaced(f *field) bool {
	if f.also < 0 {
		return false
	}
	for _, j := range im.layout.writable {
		if other := &im.layout.fields[j]; other != f && other.point.Signal == f.point.Signal && im.holds(other) {
			return true
		}
	}
	return false
}

// Lapse ends a command whose time is over. Where the device has a value to fall back to, and that is enabled, the
// value takes the command's place until further notice, and is emitted; elsewhere the command is released as by
// Release. It tells whether it emitted.
func (im *Image) Lapse(s Signal, emit func(Command)) bool {
	l := im.layout
	for _, i := range l.writable {
		f := &l.fields[i]
		if s == NoSignal || f.point.Signal != s || f.fallback < 0 || !im.holds(f) || im.raw(&l.fields[f.reverts])&1 == 0 {
			continue
		}
		f.order.put(im.memory[f.at:f.at+int(f.size)], im.raw(&l.fields[f.fallback]))
		im.latched[f.latch/64] |= 1 << (f.latch % 64)
		c := im.command(f)
		c.LastsS = 0
		emit(c)
		return true
	}
	im.Release(s)
	return false
}

// Idle names the first command among the points from address on that is stored and not obeyed, and the point
// that it needs for that; both are empty where there is none.
func (im *Image) Idle(table Table, address uint16, registers int) (point, needs string) {
	l := im.layout
	t := l.tables[table]
	for i := l.from(t, address); i < t.end && int(l.fields[i].address) < int(address)+registers; i++ {
		f := &l.fields[i]
		if f.point == nil || !f.point.Signal.IsCommand() || im.holds(f) {
			continue
		}
		if f.need >= 0 && !im.meets(f.need, f.point.Needs) {
			return f.point.Name, f.point.Needs.Point
		}
		return f.point.Name, f.point.Also.Point
	}
	return "", ""
}

// check finds the fields that a write covers, and refuses a write that is not valid as a whole.
func (im *Image) check(table Table, address uint16, values []uint16) (first, end int, err error) {
	l := im.layout
	t := l.tables[table]
	first = l.from(t, address)
	next, stop := uint32(address), uint32(address)+uint32(len(values))
	for end = first; next < stop; end++ {
		if end == t.end || uint32(l.fields[end].address) > next {
			return 0, 0, im.outside(table, address, len(values))
		}
		f := &l.fields[end]
		if f.latch < 0 {
			return 0, 0, fmt.Errorf("%s: %s %d: %w", im.name, table, next, ErrReadOnly)
		}
		if uint32(f.address) != next || f.end() > stop {
			return 0, 0, fmt.Errorf("%s: %s %d to %d is %s, which is written whole: %w",
				im.name, table, f.address, f.end()-1, f.point.Name, ErrIllegalAddress)
		}
		raw := f.order.get(values[next-uint32(address) : f.end()-uint32(address)])
		if !f.accepts(raw) {
			return 0, 0, fmt.Errorf("%s: %s %d, %s: %g: %w",
				im.name, table, f.address, f.point.Name, f.point.Type.decode(raw), ErrIllegalValue)
		}
		next = f.end()
	}
	return first, end, nil
}

// holds tells whether what the field needs is given.
func (im *Image) holds(f *field) bool {
	return im.meets(f.need, f.point.Needs) && im.meets(f.also, f.point.Also)
}

// meets tells whether the i-th field has what is needed of it; a need of no field is met.
func (im *Image) meets(i int, need *Need) bool {
	return i < 0 || im.raw(&im.layout.fields[i])&need.Mask == need.Raw
}

func (im *Image) command(f *field) Command {
	raw := im.raw(f)
	c := Command{Signal: f.point.Signal, Value: f.value(raw), Table: f.point.Table, Register: f.address, Raw: raw,
		LastsS: f.point.Lasts, Timeable: f.timer >= 0}
	if f.sibling >= 0 {
		other := &im.layout.fields[f.sibling]
		c.Value += other.value(im.raw(other))
	}
	if f.timer >= 0 {
		timer := &im.layout.fields[f.timer]
		c.LastsS = timer.value(im.raw(timer))
	}
	return c
}

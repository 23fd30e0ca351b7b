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
	var room [32]bool
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
	changed := func(i int) bool { return written(i) || l.fields[i].need >= 0 && written(l.fields[i].need) }
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
		} else if heldBefore[n] {
			emit(Command{Signal: f.point.Signal, Value: im.neutral(f.point.Signal), Table: f.point.Table,
				Register: f.address, Raw: im.raw(f), Withdrawn: true})
		}
	}
	return nil
}

// Idle names the first command among the points from address on that is stored and not obeyed, and the point
// that it needs for that; both are empty where there is none.
func (im *Image) Idle(table Table, address uint16, registers int) (point, needs string) {
	l := im.layout
	t := l.tables[table]
	for i := l.from(t, address); i < t.end && int(l.fields[i].address) < int(address)+registers; i++ {
		if f := &l.fields[i]; f.point.Signal.IsCommand() && !im.holds(f) {
			return f.point.Name, f.point.Needs.Point
		}
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
	if f.need < 0 {
		return true
	}
	need := f.point.Needs
	return im.raw(&im.layout.fields[f.need])&need.Mask == need.Raw
}

func (im *Image) command(f *field) Command {
	raw := im.raw(f)
	c := Command{Signal: f.point.Signal, Value: f.value(raw), Table: f.point.Table, Register: f.address, Raw: raw,
		LastsS: f.point.Lasts}
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

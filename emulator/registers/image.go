package registers

import (
	"fmt"
	"math"
)

// Image is one device's registers at run time.
type Image struct {
	layout  *layout
	name    string
	ratings Ratings
	values  Values
	// memory holds the fixed content and the written values; what the snapshot feeds is encoded when it is read.
	memory  []uint16
	latched []uint64
}

// NewImage makes the registers of one device. Until the first Refresh nothing but the ratings is known. It
// panics where [Map.Check] finds fault with the options.
func NewImage(m *Map, opt Options) *Image {
	if err := m.Check(opt); err != nil {
		panic(err)
	}
	l := m.layout(opt)
	im := &Image{layout: l, name: m.Name, ratings: opt.Ratings,
		memory: make([]uint16, len(l.template)), latched: make([]uint64, (len(l.writable)+63)/64)}
	copy(im.memory, l.template)
	texts := [...]string{MakerText: opt.Maker, ModelText: opt.Model, VersionText: opt.Version, SerialText: opt.Serial}
	defaults := [...]string{MakerText: "kilter bench", ModelText: m.Name, VersionText: "1", SerialText: "1"}
	for _, place := range l.texts {
		text := texts[place.field]
		if text == "" {
			text = defaults[place.field]
		}
		l.order.putText(im.memory[place.at:place.at+place.size], text)
	}
	if l.unitAt >= 0 {
		im.memory[l.unitAt] = uint16(max(opt.Unit, 1))
	}
	v := Unknown()
	im.Refresh(&v)
	return im
}

// Points are the points of this device's map, resolved with its options.
func (im *Image) Points() []Point { return im.layout.points }

// Point returns the point with the given name, such as "charge_limit" or "103.W"; nil where there is none.
func (im *Image) Point(name string) *Point {
	for i := range im.layout.points {
		if im.layout.points[i].Name == name {
			return &im.layout.points[i]
		}
	}
	return nil
}

// Value is a signal in the snapshot; NaN where it is not known.
func (im *Image) Value(s Signal) float64 { return im.values[s] }

// Refresh takes a new snapshot. Registers that were written keep what was written.
func (im *Image) Refresh(v *Values) {
	im.values = *v
	r := &im.ratings
	im.rate(RatedPower, r.PowerW)
	im.rate(RatedApparentPower, r.ApparentPowerVA)
	im.rate(RatedCurrent, r.CurrentA)
	im.rate(RatedChargePower, r.ChargePowerW)
	im.rate(RatedDischargePower, r.DischargePowerW)
	im.rate(UsableCapacity, r.CapacityWh)
}

// rate lets the nameplate stand in for a rating that the snapshot lacks.
func (im *Image) rate(s Signal, rating float64) {
	if rating != 0 && math.IsNaN(im.values[s]) {
		im.values[s] = rating
	}
}

// Read fills dst with the registers, or for coils and discrete inputs with 0 or 1, from the address on.
func (im *Image) Read(table Table, address uint16, dst []uint16) error {
	l := im.layout
	start, end := uint32(address), uint32(address)+uint32(len(dst))
	if table >= numTables || start < l.tables[table].low || end > l.tables[table].high {
		return im.outside(table, address, len(dst))
	}
	t := l.tables[table]
	next := start
	for i := l.from(t, address); i < t.end && next < end; i++ {
		f := &l.fields[i]
		if begin := min(uint32(f.address), end); begin > next {
			if !l.gapsReadZero {
				return im.outside(table, address, len(dst))
			}
			clear(dst[next-start : begin-start])
			if next = begin; next == end {
				break
			}
		}
		skip, stop := next-uint32(f.address), min(f.end(), end)
		im.show(f, dst[next-start:stop-start], int(skip))
		next = stop
	}
	return nil
}

// show writes a field's registers from the skip-th on into dst, which may be shorter than the field.
func (im *Image) show(f *field, dst []uint16, skip int) {
	if im.isStored(f) {
		copy(dst, im.memory[f.at+skip:])
		return
	}
	raw := im.shown(f)
	if len(dst) == int(f.size) {
		f.order.put(dst, raw)
		return
	}
	var whole [4]uint16
	f.order.put(whole[:f.size], raw)
	copy(dst, whole[skip:f.size])
}

// isStored tells whether the field's content stands in memory, because it is fixed or was written.
func (im *Image) isStored(f *field) bool {
	if f.point == nil {
		return true
	}
	if f.latch < 0 {
		return false
	}
	return f.point.Signal == NoSignal || im.latched[f.latch/64]>>(f.latch%64)&1 == 1
}

// shown encodes a field that the snapshot feeds.
func (im *Image) shown(f *field) uint64 {
	x := f.read(&im.values)
	if f.latch >= 0 && math.IsNaN(x) {
		x = im.neutral(f.point.Signal)
		if f.point.OneWay {
			x = max(0, x)
		}
	}
	return f.encode(x)
}

// raw is what the field's registers say now.
func (im *Image) raw(f *field) uint64 {
	if im.isStored(f) {
		return f.order.get(im.memory[f.at : f.at+int(f.size)])
	}
	return im.shown(f)
}

// neutral is the value of a command that asks for nothing. A limit whose rating is not known has none.
func (im *Image) neutral(s Signal) float64 {
	switch s {
	case ChargeLimit:
		return im.values[RatedChargePower]
	case DischargeLimit:
		return im.values[RatedDischargePower]
	case OutputLimit, Connect:
		return 1
	case Reserve:
		if x := im.values[ReserveSOC]; !math.IsNaN(x) {
			return x
		}
	}
	return 0
}

// Release forgets what was written for the signals, so that their registers show the snapshot again: after a
// command expired, or when the device let go of it. The enable bits of a SunSpec control are cleared with it.
func (im *Image) Release(released ...Signal) {
	for _, s := range released {
		for _, i := range im.layout.writable {
			f := &im.layout.fields[i]
			if s == NoSignal || f.point.Signal != s {
				continue
			}
			im.latched[f.latch/64] &^= 1 << (f.latch % 64)
			if need := f.point.Needs; need != nil && need.Ends {
				enable := &im.layout.fields[f.need]
				enable.order.put(im.memory[enable.at:enable.at+int(enable.size)], im.raw(enable)&^need.Mask)
			}
		}
	}
}

// CopyFrom makes the registers equal to those of another device of the same map and options.
func (im *Image) CopyFrom(other *Image) {
	im.layout, im.name, im.ratings, im.values = other.layout, other.name, other.ratings, other.values
	im.memory = append(im.memory[:0], other.memory...)
	im.latched = append(im.latched[:0], other.latched...)
}

// Reset forgets everything that was written, as a restart of the device does.
func (im *Image) Reset() {
	clear(im.latched)
	for _, i := range im.layout.writable {
		f := &im.layout.fields[i]
		copy(im.memory[f.at:f.at+int(f.size)], im.layout.template[f.at:])
	}
}

func (im *Image) outside(table Table, address uint16, count int) error {
	if table >= numTables {
		return fmt.Errorf("%s: no table %d: %w", im.name, table, ErrIllegalAddress)
	}
	return fmt.Errorf("%s: %s %d to %d: %w", im.name, table, address, int(address)+count-1, ErrIllegalAddress)
}

package registers

import (
	"math"
	"sort"
)

// field is a point made ready for the wire. A run of adjacent fixed points is one field, which makes reading a
// long SunSpec block cheap.
type field struct {
	// point is nil for a run of fixed content.
	point   *Point
	address uint16
	size    uint16
	// at is where the field's registers stand in an image's memory.
	at int
	// order is the map's, except that a bit has none.
	order Order
	// latch is the field's bit among the latched ones; -1 for a field that cannot be written.
	latch int
	// need, also, timer and sibling are indexes of other fields, or -1. A sibling is the other direction of a
	// quantity that is split over two one-way points.
	need, also, timer, sibling int
	// fallback and reverts are the indexes of the two points of a reversion, or -1.
	fallback, reverts int
	// multiplier replaces a division by the scale where one over the scale is a whole number, since
	// 0.35 / 0.1 falls below 3.5 and 0.35 x 10 does not.
	multiplier       float64
	rawMin, rawMax   float64
	bounded, derived bool
}

// span is one table's part of the fields, and the addresses from its first to its last register.
type span struct {
	first, end int
	low, high  uint32
}

// layout is what all images of one map and the same options share.
type layout struct {
	points   []Point
	fields   []field
	tables   [numTables]span
	writable []int
	texts    []textPlace
	// unitAt is where the device's unit stands in memory; -1 for nowhere.
	unitAt int
	// template is the memory of an image before any write.
	template     []uint16
	order        Order
	gapsReadZero bool
}

type textPlace struct {
	field TextField
	at    int
	size  int
}

// newLayout expects points in order of table and address, none overlapping another.
func newLayout(points []Point, order Order, gapsReadZero bool) *layout {
	l := &layout{points: points, order: order, gapsReadZero: gapsReadZero, unitAt: -1}
	byName := make(map[string]int, len(points))
	for t := range numTables {
		s := span{first: len(l.fields)}
		for i := range points {
			if points[i].Table == t {
				l.add(&points[i], s.first)
				byName[points[i].Name] = len(l.fields) - 1
			}
		}
		s.end = len(l.fields)
		if s.end > s.first {
			s.low = uint32(l.fields[s.first].address)
			s.high = l.fields[s.end-1].end()
		}
		l.tables[t] = s
	}
	l.link(byName)
	return l
}

func (l *layout) add(p *Point, first int) {
	at := len(l.template)
	l.template = append(l.template, make([]uint16, p.Registers)...)
	if p.Fixed != nil {
		copy(l.template[at:], p.Fixed)
	}
	if p.Text != NoText {
		l.texts = append(l.texts, textPlace{p.Text, at, int(p.Registers)})
	}
	if p.ShowsUnit {
		l.unitAt = at
	}
	f := field{point: p, address: p.Address, size: p.Registers, at: at, order: l.order, latch: -1, need: -1, also: -1, timer: -1, sibling: -1,
		fallback: -1, reverts: -1}
	if p.Type == Bit {
		f.order = Order{}
	}
	if p.isFixed() {
		f.point = nil
		if n := len(l.fields); n > first && l.fields[n-1].point == nil && l.fields[n-1].end() == uint32(p.Address) {
			l.fields[n-1].size += p.Registers
			return
		}
	} else {
		f.prepare()
	}
	if p.Writable {
		f.latch = len(l.writable)
		l.writable = append(l.writable, len(l.fields))
	}
	l.fields = append(l.fields, f)
}

// isFixed tells whether the point's content never changes while the device runs.
func (p *Point) isFixed() bool {
	return !p.Writable && p.Signal == NoSignal && p.derive == nil
}

func (f *field) prepare() {
	p := f.point
	f.derived = p.derive != nil
	if p.Scale > 0 && p.Scale < 1 {
		if inverse := math.Round(1 / p.Scale); math.Abs(inverse*p.Scale-1) < 1e-12 {
			f.multiplier = inverse
		}
	}
	if !p.HasRange {
		return
	}
	f.bounded = true
	f.rawMin, f.rawMax = (p.Min-p.Offset)/p.Scale, (p.Max-p.Offset)/p.Scale
	if !p.Type.isFloat() {
		// A limit that the scale does not meet exactly by a rounding error still counts as met.
		slack := 1e-9 * max(1, max(math.Abs(f.rawMin), math.Abs(f.rawMax)))
		f.rawMin, f.rawMax = math.Ceil(f.rawMin-slack), math.Floor(f.rawMax+slack)
	}
}

// link turns the names by which points refer to one another into indexes.
func (l *layout) link(byName map[string]int) {
	for _, i := range l.writable {
		f := &l.fields[i]
		if f.point.Needs != nil {
			f.need = byName[f.point.Needs.Point]
		}
		if f.point.Also != nil {
			f.also = byName[f.point.Also.Point]
		}
		if r := f.point.Reversion; r != nil {
			f.fallback, f.reverts = byName[r.Value], byName[r.Enable]
		}
		if f.point.Timer != "" {
			f.timer = byName[f.point.Timer]
		}
		for _, j := range l.writable {
			if j != i && f.point.OneWay && l.fields[j].point.Signal == f.point.Signal {
				f.sibling = j
			}
		}
	}
}

func (f *field) end() uint32 { return uint32(f.address) + uint32(f.size) }

// from returns the index of the first field of a table that ends after the address.
func (l *layout) from(t span, address uint16) int {
	return t.first + sort.Search(t.end-t.first, func(i int) bool {
		return l.fields[t.first+i].end() > uint32(address)
	})
}

// encode turns a value that is already in the register's direction into its raw form.
func (f *field) encode(x float64) uint64 {
	p := f.point
	if math.IsNaN(x) {
		return p.Absent
	}
	if len(p.Words) > 0 {
		for i := range p.Words {
			if p.Words[i].Value == x {
				return p.Words[i].Raw
			}
		}
		return p.Absent
	}
	x -= p.Offset
	if f.multiplier != 0 {
		x *= f.multiplier
	} else {
		x /= p.Scale
	}
	if p.Counter {
		return p.Type.encodeCounter(x)
	}
	return p.Type.encode(x)
}

// read takes the point's value out of a snapshot, in the register's direction.
func (f *field) read(v *Values) float64 {
	p := f.point
	var x float64
	switch {
	case f.derived:
		x = p.derive(v)
	case p.Signal < NumSignals:
		x = v[p.Signal]
	default:
		return math.NaN()
	}
	x *= p.Sign
	if p.Magnitude {
		x = math.Abs(x)
	}
	if p.OneWay {
		x = max(0, x)
	}
	return x
}

// accepts tells whether a controller may write the raw value.
func (f *field) accepts(raw uint64) bool {
	p := f.point
	if len(p.Words) > 0 {
		for i := range p.Words {
			if p.Words[i].Raw == raw {
				return true
			}
		}
		return false
	}
	x := p.Type.decode(raw)
	if math.IsNaN(x) || math.IsInf(x, 0) || p.Type == Bit && raw > 1 {
		return false
	}
	return !f.bounded || x >= f.rawMin && x <= f.rawMax
}

// value is what a raw value means inside.
func (f *field) value(raw uint64) float64 {
	p := f.point
	for i := range p.Words {
		if p.Words[i].Raw == raw {
			return p.Words[i].Value
		}
	}
	// Adding zero turns a negative zero into a plain one.
	return p.Sign*(float64(p.Type.decode(raw)*p.Scale)+p.Offset) + 0
}

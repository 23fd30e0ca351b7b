package registers

import (
	"fmt"
	"math"
)

// Shown lists the points from which a client learns a signal: the first that shows it, or the two of a quantity
// that is split by direction, whose sum it is. It is empty where the device does not have the signal.
func (im *Image) Shown(s Signal) []*Point { return im.pick(s, false) }

// Commanded lists the points by which a client commands a signal, as Shown does.
func (im *Image) Commanded(s Signal) []*Point { return im.pick(s, true) }

func (im *Image) pick(s Signal, writable bool) (list []*Point) {
	for i := range im.layout.points {
		p := &im.layout.points[i]
		if p.Signal != s || s == NoSignal || writable && !p.Writable {
			continue
		}
		if len(list) == 0 || p.OneWay && list[0].OneWay {
			list = append(list, p)
		}
	}
	return list
}

// Decode is what a client makes of a point's registers. It is not known where they say so, where they hold no
// word of the point's, or no number.
func (im *Image) Decode(p *Point, words []uint16) (value float64, known bool) {
	f := im.layout.fieldOf(p)
	raw := f.order.get(words)
	if len(p.Words) > 0 {
		for i := range p.Words {
			if p.Words[i].Raw == raw {
				return p.Words[i].Value, true
			}
		}
		return math.NaN(), false
	}
	value = f.value(raw)
	if p.Type != Bit && !p.Counter && raw == p.Absent || math.IsNaN(value) || math.IsInf(value, 0) {
		return math.NaN(), false
	}
	return value, true
}

// Encode lays a value out in the registers of a point, rounded to what they resolve; a point of one direction
// shows nothing of the other. What they cannot hold is an error. Whether the device takes the value is its own affair.
func (im *Image) Encode(p *Point, value float64) ([]uint16, error) {
	f := im.layout.fieldOf(p)
	x := p.Sign * value
	if p.OneWay {
		x = max(0, x)
	}
	raw := f.encode(x)
	if back := f.value(raw); math.IsNaN(value) || len(p.Words) > 0 && back != value || math.Abs(p.Sign*back-x) > max(p.Scale, 1e-6*math.Abs(x)) {
		return nil, fmt.Errorf("%s: %s cannot hold %g %s", im.name, p.Name, value, p.Signal.Unit())
	}
	words := make([]uint16, p.Registers)
	f.order.put(words, raw)
	return words, nil
}

// fieldOf finds the field of a point of this layout that is not fixed.
func (l *layout) fieldOf(p *Point) *field { return &l.fields[l.from(l.tables[p.Table], p.Address)] }

// Meet returns the registers of the point that is needed as they meet the need, and whether that changes them.
func (im *Image) Meet(n *Need, words []uint16) (met []uint16, changes bool) {
	return im.alter(n, words, n.Raw)
}

// Unmeet is the way back from Meet: none of the bits that are needed is left.
func (im *Image) Unmeet(n *Need, words []uint16) (unmet []uint16, changes bool) {
	return im.alter(n, words, 0)
}

func (im *Image) alter(n *Need, words []uint16, raw uint64) (altered []uint16, changes bool) {
	f := im.layout.fieldOf(im.Point(n.Point))
	before := f.order.get(words)
	after := before&^n.Mask | raw
	altered = make([]uint16, len(words))
	f.order.put(altered, after)
	return altered, after != before
}

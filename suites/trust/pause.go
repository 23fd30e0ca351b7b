package trust

import (
	"math"

	"kilter/physics"
)

// supervisor leaves all inverters to their own meters. When power circulates at two
// polls running, those that work against what the site needs are paused: held at
// nothing where the others have room enough, and else kept from the wrong direction
// alone. All are free again when the site needs the other direction, or when those
// that are free have hardly any room left for what it needs.
type supervisor struct {
	pauses  []stance
	towards float64 // the direction that the site needed when it paused somebody
	seen    int
}

type stance uint8

const (
	free stance = iota
	blocked
	held
)

const (
	circulatesW = 60
	// A unit is held while the others need no more than the lesser share of their
	// room, and helps again when they need the larger.
	comfortable, strained = 0.6, 0.85
)

func (m *supervisor) decide(v *view, orders []order) {
	need := v.totalW() - v.gridW
	var given, taken float64
	for i := range v.units {
		given, taken = given+max(0, -v.units[i].powerW), taken+max(0, v.units[i].powerW)
	}
	if min(given, taken) > circulatesW {
		m.seen++
	} else {
		m.seen = 0
	}
	if need*m.towards < 0 && math.Abs(need) > circulatesW {
		clear(m.pauses)
		m.towards = 0
	}
	if m.seen >= 2 {
		m.pause(v, need)
	}
	if math.Abs(need) > strained*m.room(v, need) {
		for i := range m.pauses {
			m.pauses[i] = min(m.pauses[i], blocked)
		}
	}
	for i := range orders {
		orders[i] = m.order(i, v.units[i].ratingW)
	}
}

// room is what those that are not held can do in the direction of w.
func (m *supervisor) room(v *view, w float64) (sum float64) {
	for i := range v.units {
		if m.pauses[i] != held {
			sum += v.units[i].roomW(w)
		}
	}
	return sum
}

// pause stops those that work against what is needed, or all but one where next to
// nothing is.
func (m *supervisor) pause(v *view, need float64) {
	m.towards = math.Copysign(1, need)
	lead := 0
	for i := range v.units {
		if v.units[i].powerW*m.towards > v.units[lead].powerW*m.towards {
			lead = i
		}
	}
	m.pauses[lead] = free
	for i := range v.units {
		if i == lead || m.pauses[i] == held || v.units[i].powerW*m.towards >= 0 && math.Abs(need) > circulatesW {
			continue
		}
		m.pauses[i] = held
		if math.Abs(need) > comfortable*m.room(v, need) {
			m.pauses[i] = blocked
		}
	}
}

func (m *supervisor) order(i int, ratingW float64) order {
	o := order{mode: physics.SelfConsumption, chargeW: ratingW, dischargeW: ratingW}
	switch {
	case m.pauses[i] == held:
		o.mode = physics.Hold
	case m.pauses[i] == blocked && m.towards > 0:
		o.dischargeW = 0
	case m.pauses[i] == blocked:
		o.chargeW = 0
	}
	return o
}

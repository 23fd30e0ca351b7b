package criteria

import "math"

// zigzag follows a signal from turning point to turning point and ignores
// reversals smaller than its hysteresis. Of all ways to pick alternating points
// with swings of at least the hysteresis it finds one with the most swings.
type zigzag struct {
	hysteresis float64
	direction  int8 // 0 until the first swing
	low, high  turn // the extremes before the first swing
	tip        turn // the extreme of the swing in progress
	past       [4]turn
	turns      int64
}

// turn is a turning point.
type turn struct {
	tick  int64
	value float64
}

// observe takes a value and says whether the swing in progress grew.
func (z *zigzag) observe(tick int64, x float64) bool {
	switch z.direction {
	case 1:
		if x > z.tip.value {
			z.tip = turn{tick, x}
			return true
		}
		if z.tip.value-x >= z.hysteresis {
			z.reverse(-1, turn{tick, x})
			return true
		}
	case -1:
		if x < z.tip.value {
			z.tip = turn{tick, x}
			return true
		}
		if x-z.tip.value >= z.hysteresis {
			z.reverse(1, turn{tick, x})
			return true
		}
	default:
		return z.begin(tick, x)
	}
	return false
}

// still is the open interval of values at which observe would do nothing; it is
// empty before the first value.
func (z *zigzag) still() (low, high float64) {
	// What rounding could decide otherwise is left to observe.
	swing := z.hysteresis * (1 - 1e-9)
	switch z.direction {
	case 1:
		return z.tip.value - swing, z.tip.value
	case -1:
		return z.tip.value, z.tip.value + swing
	}
	return max(z.low.value, z.high.value-swing), min(z.high.value, z.low.value+swing)
}

// begin waits for the first swing. The later of two equal extremes starts it, so
// that the swing is no longer than it must be.
func (z *zigzag) begin(tick int64, x float64) bool {
	if x <= z.low.value {
		z.low = turn{tick, x}
	}
	if x >= z.high.value {
		z.high = turn{tick, x}
	}
	switch {
	case x-z.low.value >= z.hysteresis:
		z.tip = z.low
		z.reverse(1, turn{tick, x})
	case z.high.value-x >= z.hysteresis:
		z.tip = z.high
		z.reverse(-1, turn{tick, x})
	default:
		return false
	}
	return true
}

// reverse makes the tip a turning point and starts the next swing.
func (z *zigzag) reverse(direction int8, tip turn) {
	z.past[z.turns&3] = z.tip
	z.turns++
	z.direction, z.tip = direction, tip
}

func (z *zigzag) reset() {
	z.direction, z.turns = 0, 0
	z.low, z.high = turn{0, math.Inf(1)}, turn{0, math.Inf(-1)}
}

// fourSwings looks at the last four swings, the one in progress included: where
// the first began, where it was at the last complete turn, and the smallest of
// the four. ok is false when there were fewer.
func (z *zigzag) fourSwings() (from, lastTurn int64, smallest float64, ok bool) {
	if z.turns < 4 {
		return 0, 0, 0, false
	}
	a, b := z.past[z.turns&3], z.past[(z.turns+1)&3]
	c, d := z.past[(z.turns+2)&3], z.past[(z.turns+3)&3]
	smallest = min(
		math.Abs(b.value-a.value), math.Abs(c.value-b.value),
		math.Abs(d.value-c.value), math.Abs(z.tip.value-d.value))
	return a.tick, d.tick, smallest, true
}

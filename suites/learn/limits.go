package learn

import "math"

// bounds are the powers at which a unit was seen to stand although the grid flow asked for more; zero where it never was.
type bounds struct {
	chargeW, dischargeW float64
	peakW               float64 // the largest power that was seen, either way
}

const (
	plateauShare = 0.003 // of the largest power: what still counts as standing at it
	plateauW     = 8.0
	askedW       = 40.0 // grid flow that a loop at its limit leaves standing
)

// boundsOf looks for a unit's largest powers.
func boundsOf(gridW, powerW []float64, stepS float64) bounds {
	high, low := math.Inf(-1), math.Inf(1)
	for _, w := range powerW {
		if !math.IsNaN(w) {
			high, low = max(high, w), min(low, w)
		}
	}
	b := bounds{peakW: max(high, -low, 1)}
	least := max(4, int(10/stepS))
	if high > 50 {
		b.chargeW = stands(gridW, powerW, high, 1, least)
	}
	if low < -50 {
		b.dischargeW = stands(gridW, powerW, -low, -1, least)
	}
	return b
}

// stands is the mean power near a unit's largest one, if it stood there while the grid flow asked for more.
func stands(gridW, powerW []float64, most, sign float64, least int) float64 {
	band := max(plateauW, plateauShare*most)
	n, sum, run, longest := 0, 0.0, 0, 0
	for i, w := range powerW {
		if w*sign > most-band && gridW[i]*sign < -askedW {
			n++
			sum += w * sign
			run++
			longest = max(longest, run)
		} else {
			run = 0
		}
	}
	if n < least || longest < 3 {
		return 0
	}
	return sum / float64(n)
}

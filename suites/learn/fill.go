package learn

import (
	"math"
	"math/rand/v2"
)

// point is one point of the net load's trace.
type point struct {
	atS float64
	w   float64
}

// rebuilt is the rest of the site as the fit placed it: straight between the samples, and sudden where it jumped.
func rebuilt(rest []float64, stepS float64, list []jump) []point {
	shares := map[int]float64{}
	for _, j := range list {
		shares[j.after] = j.share
	}
	var out []point
	for n, w := range rest {
		at := float64(n) * stepS
		out = append(out, point{at, w})
		if share, sudden := shares[n]; sudden && n+1 < len(rest) {
			s := at + share*stepS
			out = append(out, point{s, w}, point{s + 0.001, rest[n+1]})
		}
	}
	return out
}

// coarseS is the step from which on the time between two values can hold more than a loop's answer.
const coarseS = 5

// filling is one plausible course of the rest of the site between coarse samples: a jump comes at any time between its two, and
// elsewhere a bridge wanders whose spread at the middle is a third of the usual change from sample to sample. Each seed gives
// another; that it is plausible is all that can be said of it.
func filling(rest []float64, stepS float64, list []jump, seed uint64) []point {
	chance := rand.New(rand.NewPCG(seed, 0x6b696c746572))
	sudden := map[int]bool{}
	for _, j := range list {
		sudden[j.after] = true
	}
	usual := 0.0
	for n := 1; n < len(rest); n++ {
		if !sudden[n-1] {
			usual += math.Abs(rest[n] - rest[n-1])
		}
	}
	usual /= max(float64(len(rest)-1-len(list)), 1)
	per := int(max(2, min(stepS, 60)))
	var out []point
	for n, w := range rest {
		at := float64(n) * stepS
		out = append(out, point{at, w})
		if n+1 == len(rest) {
			break
		}
		next := rest[n+1]
		if sudden[n] {
			s := at + (0.02+0.96*chance.Float64())*stepS
			out = append(out, point{s, w}, point{s + 0.001, next})
			continue
		}
		// A Brownian bridge.
		walk := make([]float64, per+1)
		for k := 1; k <= per; k++ {
			walk[k] = walk[k-1] + chance.NormFloat64()
		}
		sigma := usual / 3 * 2 / math.Sqrt(float64(per))
		for k := 1; k < per; k++ {
			x := float64(k) / float64(per)
			out = append(out, point{at + x*stepS, w + (next-w)*x + sigma*(walk[k]-x*walk[per])})
		}
	}
	return out
}

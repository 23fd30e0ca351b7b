package trust

import "math/rand/v2"

// chance is a source of random numbers for one purpose in one case, so that what
// is drawn for one part never shifts what is drawn for another.
type chance struct{ *rand.Rand }

func newChance(seed uint64, purpose string) chance {
	h := uint64(0xcbf29ce484222325) // FNV-1a, 64 bit
	for _, b := range []byte(purpose) {
		h = (h ^ uint64(b)) * 0x100000001b3
	}
	return chance{rand.New(rand.NewPCG(seed, h))}
}

// between is uniform.
func (c chance) between(low, high float64) float64 { return low + (high-low)*c.Float64() }

// mostly is between two numbers, more often near the lower.
func (c chance) mostly(low, high float64) float64 {
	u := c.Float64()
	return low + (high-low)*u*u
}

func (c chance) happens(share float64) bool { return c.Float64() < share }

// ticks is a whole number of steps between two times in seconds.
func (c chance) ticks(low, high float64) int64 {
	first, last := int64(low/stepS+0.5), int64(high/stepS+0.5)
	return first + c.Int64N(last-first+1)
}

// seconds is a time on the grid of steps.
func (c chance) seconds(low, high float64) float64 {
	return float64(c.ticks(low, high)) * stepMS / 1000
}

func pick[T any](c chance, of ...T) T { return of[c.IntN(len(of))] }

const (
	stepMS = 100
	stepS  = 0.1
)

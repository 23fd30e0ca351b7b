package physics

import (
	"fmt"
	"math"
)

// BreakerType is the band in which a miniature circuit breaker trips at once.
type BreakerType uint8

// Types of IEC 60898-1.
const (
	TypeB BreakerType = iota // 3 to 5 In
	TypeC                    // 5 to 10 In
	TypeD                    // 10 to 20 In
)

// Band is where the instantaneous release begins to trip and where it must [multiples of In]. Source: IEC
// 60898-1 table 7; check value OC-07.
func (t BreakerType) Band() (low, high float64) {
	switch t {
	case TypeC:
		return 5, 10
	case TypeD:
		return 10, 20
	}
	return 3, 5
}

// String gives the letter.
func (t BreakerType) String() string { return [...]string{"B", "C", "D", "?"}[t&3] }

// The multiples of In at which IEC 60898-1 table 7 tests a breaker (check values OC-06 and OC-10): it
// must hold the first for the conventional time, trip at the second within it, and at the third within a
// minute or two but not within a second.
const (
	BreakerNonTripping = 1.13
	BreakerTripping    = 1.45
	BreakerWarmTest    = 2.55
)

// BreakerConventionalS is 1 h to 63 A and 2 h above [s].
func BreakerConventionalS(ratedA float64) float64 {
	if ratedA <= 63 {
		return 3600
	}
	return 7200
}

// warmTestS is the longest time at 2.55 In [s].
func warmTestS(ratedA float64) float64 {
	if ratedA <= 32 {
		return 60
	}
	return 120
}

// instantS is the time of the instantaneous release [s].
const instantS = 0.1

// BreakerLatestS is the time [s] within which a cold breaker must trip at a constant current [A];
// +Inf where it need not. Between the table's tests the nearest one at a smaller current decides.
// Source: IEC 60898-1 table 7; check value OC-08.
func BreakerLatestS(t BreakerType, ratedA, currentA float64) float64 {
	_, high := t.Band()
	switch i := currentA / ratedA; {
	case i >= high:
		return instantS
	case i >= BreakerWarmTest:
		return warmTestS(ratedA)
	case i >= BreakerTripping:
		return BreakerConventionalS(ratedA)
	}
	return math.Inf(1)
}

// BreakerEarliestS is the time [s] before which a cold breaker must not trip at a constant current
// [A]. Between the table's tests the nearest one at a larger current decides. Source: IEC 60898-1
// table 7; check value OC-09.
func BreakerEarliestS(t BreakerType, ratedA, currentA float64) float64 {
	low, _ := t.Band()
	switch i := currentA / ratedA; {
	case i >= low:
		return 0
	case i > BreakerWarmTest:
		return instantS
	case i > BreakerNonTripping:
		return 1
	}
	return BreakerConventionalS(ratedA)
}

// Breaker is the runtime state of one miniature circuit breaker: a thermal replica, and an
// instantaneous release. Its position says where it lies between the earliest (0) and the latest (1)
// that the standard allows: its time at 2.55 In from cold between 1 s and the longest, on a
// logarithmic scale, and its pick-up between 1.13 and 1.45 In, both kept a tenth of the way off the
// ends; its instantaneous current in the type's band. The thermal part acts no sooner than 0.1 s.
// Not modelled: ambient temperature, poles that heat each other. Source: the bounds of IEC 60898-1
// table 7; the curve between them is ours.
type Breaker struct {
	Replica ThermalReplica
	Tripped bool

	ratedA    float64
	instantA  float64
	ticks     int64 // of the instantaneous release
	beyond    int64 // ticks beyond the instantaneous current
	overTicks int64 // ticks beyond the pick-up
}

// NewBreaker makes a cold breaker of a rated current [A], to be stepped by ticks of stepS [s].
func NewBreaker(t BreakerType, ratedA, position, stepS float64) (Breaker, error) {
	if !(ratedA > 0) {
		return Breaker{}, fmt.Errorf("breaker of %g A; the rated current must be more than 0", ratedA)
	}
	if !(position >= 0 && position <= 1) {
		return Breaker{}, fmt.Errorf("breaker of %g A: position %g; it must be between 0, the earliest, and 1, the latest", ratedA, position)
	}
	low, high := t.Band()
	const margin = 0.1 // the ends themselves belong to the standard's tests
	share := margin + float64((1-2*margin)*position)
	pickUp := BreakerNonTripping + float64((BreakerTripping-BreakerNonTripping)*share)
	trip := pow(warmTestS(ratedA), share)
	return Breaker{
		Replica:  NewThermalReplica(trip/ReplicaTripS(1, BreakerWarmTest, pickUp, 0), pickUp, stepS),
		ratedA:   ratedA,
		instantA: ratedA * (low + float64((high-low)*position)),
		ticks:    max(int64(instantS/stepS+1e-9), 1), // at most the 0.1 s allowed, or one tick
	}, nil
}

// Step lets a current [A rms] flow for one tick and says whether the breaker has tripped.
func (b *Breaker) Step(currentA float64) bool {
	i := math.Abs(currentA)
	over := b.Replica.Step(i / b.ratedA)
	if b.overTicks++; !(i > b.Replica.PickUp*b.ratedA) {
		b.overTicks = 0
	}
	if b.beyond++; i < b.instantA {
		b.beyond = 0
	}
	b.Tripped = b.Tripped || over && b.overTicks >= b.ticks || b.beyond >= b.ticks
	return b.Tripped
}

// Reset closes a tripped breaker. It is as warm as it was.
func (b *Breaker) Reset() { b.Tripped, b.beyond, b.overTicks = false, 0, 0 }

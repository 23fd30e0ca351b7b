package physics

import "math"

// Cycle is one cycle (Count 1) or half cycle (Count 0.5) that rainflow counting found.
type Cycle struct {
	Range, Mean, Count float64
	From, To           int64 // the samples, from 0, at which its two turning points stand
}

// Rainflow counts cycles as they come, by the rules of ASTM E1049-85 clause 5.4.4 for a record that
// is not repeated. Of the turning points it keeps those that no cycle has used yet; with X the
// range just ended and Y the one before, it waits while X < Y, counts Y as a whole cycle where X >=
// Y, and as half a cycle where Y begins at the record's first kept point.
//
// The ranges kept shrink from one to the next, so that few are kept in practice; when more than
// the given depth would be, the oldest is counted as the half cycle that the end of the record would make of
// it. End counts what is left. A record of fewer than three samples has no cycle. Twice the sum of
// Range x Count is the record's total variation (check value RF-07).
//
// Of a state-of-charge series, the sum of Range x Count is the equivalent full cycles; that sum needs no
// rainflow, being half the total variation: what rainflow adds is how deep the cycles were.
type Rainflow struct {
	found   func(Cycle)
	points  []turningPoint // unused turning points, oldest first, and then the latest sample
	used    int            // points[:used] are turning points; a free place follows
	latest  turningPoint
	rising  bool
	samples int64
	sum     float64 // Range x Count of the cycles counted
}

type turningPoint struct {
	value float64
	at    int64
}

// NewRainflow makes a counter that keeps at most depth >= 3 turning points (64 is ample) and tells
// each cycle to found, which may be nil. Counting allocates nothing.
func NewRainflow(depth int, found func(Cycle)) Rainflow {
	return Rainflow{found: found, points: make([]turningPoint, depth)}
}

// Add takes the next sample. NaN is left out.
func (r *Rainflow) Add(value float64) {
	if value != value {
		return
	}
	now := turningPoint{value, r.samples}
	r.samples++
	switch {
	case r.samples == 1:
		r.push(now)
	case value == r.latest.value: // no change of direction; the first of equal samples is the turning point
		return
	case r.used == 1 && r.latest == r.points[0]: // the first slope
		r.rising = value > r.latest.value
	case (value > r.latest.value) != r.rising:
		r.rising = !r.rising
		r.push(r.latest)
	}
	r.latest = now
}

// push takes a turning point and counts what it closes.
func (r *Rainflow) push(p turningPoint) {
	if r.used == len(r.points) {
		r.dropFirst()
	}
	r.points[r.used] = p
	r.used++
	for r.used >= 3 {
		a, b, c := r.points[r.used-3], r.points[r.used-2], r.points[r.used-1]
		if math.Abs(c.value-b.value) < math.Abs(b.value-a.value) {
			return
		}
		if r.used == 3 { // Y begins at the first point
			r.dropFirst()
			continue
		}
		r.count(a, b, 1)
		r.points[r.used-3] = c
		r.used -= 2
	}
}

// dropFirst counts the oldest range as half a cycle and forgets its first point.
func (r *Rainflow) dropFirst() {
	r.count(r.points[0], r.points[1], 0.5)
	copy(r.points, r.points[1:r.used])
	r.used--
}

func (r *Rainflow) count(a, b turningPoint, n float64) {
	c := Cycle{Range: math.Abs(b.value - a.value), Mean: (a.value + b.value) / 2, Count: n, From: a.at, To: b.at}
	r.sum += float64(c.Range * n)
	if r.found != nil {
		r.found(c)
	}
}

// End counts the ranges that are left as half cycles; the counter is empty afterwards.
func (r *Rainflow) End() {
	if r.samples >= 3 && r.latest != r.points[r.used-1] {
		r.push(r.latest)
	}
	for r.samples >= 3 && r.used >= 2 {
		r.dropFirst()
	}
	r.used, r.samples = 0, 0
}

// Equivalent is the sum of Range x Count so far, the ranges that are still open counted as halves: the
// equivalent full cycles of a state-of-charge series from 0 to 1. Check value RF-08.
func (r *Rainflow) Equivalent() float64 {
	sum := r.sum
	if r.samples < 3 {
		return sum
	}
	for i := 1; i < r.used; i++ {
		sum += float64(math.Abs(r.points[i].value-r.points[i-1].value) / 2)
	}
	return sum + float64(math.Abs(r.latest.value-r.points[r.used-1].value)/2)
}

// CountCycles counts a whole record at once, in the order in which the cycles close.
func CountCycles(series []float64) []Cycle {
	var cycles []Cycle
	r := NewRainflow(len(series)+1, func(c Cycle) { cycles = append(cycles, c) })
	for _, v := range series {
		r.Add(v)
	}
	r.End()
	return cycles
}

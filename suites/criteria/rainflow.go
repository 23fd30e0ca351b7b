package criteria

import "math"

// rainflowDepth is how many unused turning points are kept. Each range kept is
// smaller than the one before, so that few are in practice.
const rainflowDepth = 64

// rainflow counts cycles as they come, by the rules of ASTM E1049-85 clause 5.4.4
// for a record that is not repeated: with X the range just ended and Y the one
// before, wait while X < Y; else count Y as a whole cycle, or as half of one where
// Y begins at the first point kept. What is left at the end counts as half cycles.
// When more turning points would be kept than there is room for, the oldest range
// is counted as the half cycle that the end would make of it. A record of fewer
// than three samples has no cycle.
//
// The plant counts cycles too. This is written anew, since a verdict does not
// reuse the formula that made the number.
type rainflow struct {
	points  [rainflowDepth]float64
	used    int
	latest  float64
	rising  bool
	samples int
	sum     float64 // range x count of what was counted
	deepest float64 // the largest range counted

	// seen, where given, is told each cycle: for tests.
	seen func(reach, mean, count float64)
}

func (r *rainflow) add(x float64) {
	r.samples++
	switch {
	case r.samples == 1:
		r.points[0], r.used = x, 1
	case x == r.latest:
		return // no change of direction
	case r.used == 1 && r.latest == r.points[0]:
		r.rising = x > r.latest
	case (x > r.latest) != r.rising:
		r.turn(r.latest)
		r.rising = !r.rising
	}
	r.latest = x
}

// turn takes a turning point and counts the ranges that it closes.
func (r *rainflow) turn(x float64) {
	if r.used == rainflowDepth {
		r.dropFirst()
	}
	r.points[r.used] = x
	r.used++
	for r.used >= 3 {
		a, b, c := r.points[r.used-3], r.points[r.used-2], r.points[r.used-1]
		if math.Abs(c-b) < math.Abs(b-a) {
			return
		}
		if r.used == 3 {
			r.dropFirst()
			continue
		}
		r.count(a, b, 1)
		r.points[r.used-3] = c
		r.used -= 2
	}
}

func (r *rainflow) dropFirst() {
	r.count(r.points[0], r.points[1], 0.5)
	copy(r.points[:], r.points[1:r.used])
	r.used--
}

func (r *rainflow) count(a, b, n float64) {
	reach := math.Abs(b - a)
	r.sum += float64(reach * n)
	r.deepest = max(r.deepest, reach)
	if r.seen != nil {
		r.seen(reach, (a+b)/2, n)
	}
}

// ended is the counter as the end of the record leaves it: all is counted.
func (r rainflow) ended() rainflow {
	if r.samples < 3 {
		return rainflow{}
	}
	if r.latest != r.points[r.used-1] {
		r.turn(r.latest)
	}
	for r.used >= 2 {
		r.dropFirst()
	}
	return r
}

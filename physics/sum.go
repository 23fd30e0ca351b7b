package physics

import "math"

// sum is a compensated sum (A. Neumaier, ZAMM 54, 1974): its error does not grow
// with the number of terms, so that a day of ticks still balances.
type sum struct{ total, lost float64 }

func (s *sum) add(v float64) {
	t := s.total + v
	if math.Abs(s.total) >= math.Abs(v) {
		s.lost += (s.total - t) + v
	} else {
		s.lost += (v - t) + s.total
	}
	s.total = t
}

func (s *sum) value() float64 { return s.total + s.lost }

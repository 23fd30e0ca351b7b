package physics

import "math"

// Sum is a compensated sum (A. Neumaier, ZAMM 54, 1974): its error does not grow
// with the number of terms, so that a day of ticks still balances.
type Sum struct{ total, lost float64 }

func (s *Sum) add(v float64) {
	v = float64(v) // a product that the caller passes is rounded before it is summed
	t := s.total + v
	if math.Abs(s.total) >= math.Abs(v) {
		s.lost += (s.total - t) + v
	} else {
		s.lost += (v - t) + s.total
	}
	s.total = t
}

// Value is the sum so far.
func (s *Sum) Value() float64 { return s.total + s.lost }

package criteria

import "math"

// sum adds with compensation, so that the energy of a day of small steps keeps
// its last digits (A. Neumaier, Rundungsfehleranalyse einiger Verfahren zur
// Summation endlicher Summen, ZAMM 54, 1974).
type sum struct{ total, lost float64 }

func (s *sum) add(x float64) {
	t := s.total + x
	if math.Abs(s.total) >= math.Abs(x) {
		s.lost += (s.total - t) + x
	} else {
		s.lost += (x - t) + s.total
	}
	s.total = t
}

func (s *sum) value() float64 { return s.total + s.lost }

// wattHours adds a power that holds for one step.
func (s *sum) wattHours(powerW, stepS float64) { s.add(powerW * stepS / 3600) }

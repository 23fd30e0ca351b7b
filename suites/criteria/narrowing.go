package criteria

import "math"

// narrowing is the least spread of the states of charge that could have been
// reached: it starts as the first sample's, grows by what states of charge jump, as
// on a recalibration, and shrinks by what the net load lets the fuller battery give
// alone, or the surplus the emptier one take. Letting one battery charge the other
// does not count: that is a fault of its own.
type narrowing struct {
	last   []float64 // the states of charge of the sample before
	spread float64
}

// jumpedSOC is more than any battery moves in a step, as a fraction; common
// practice, no source.
const jumpedSOC = 0.002

// step takes one sample into account.
func (w *narrowing) step(s *Sample, fullest, lowest int) {
	if len(w.last) != len(s.Inverters) {
		w.last = make([]float64, len(s.Inverters)) // once: the number never changes
		for i := range s.Inverters {
			w.last[i] = s.Inverters[i].SOC
		}
		w.spread = s.Inverters[fullest].SOC - s.Inverters[lowest].SOC
		return
	}
	for i := range s.Inverters {
		soc := s.Inverters[i].SOC
		if jump := math.Abs(soc - w.last[i]); jump > jumpedSOC {
			w.spread += jump
		}
		w.last[i] = soc
	}
	v, powerW := &s.Inverters[fullest], 0.0
	if s.NetLoadW > 0 {
		powerW = min(s.NetLoadW, v.DischargeRoomW)
	} else {
		v = &s.Inverters[lowest]
		powerW = min(-s.NetLoadW, v.ChargeRoomW)
	}
	if v.CapacityWh > 0 {
		w.spread = max(0, w.spread-float64(powerW*s.StepS/(3600*v.CapacityWh)))
	}
}

package criteria

import (
	"math"
	"time"
)

// forced adds up what batteries had to let go because they could not go on: one
// that is empty, nearly full or away drops what it carried, and the others have to
// take it over as they would a step of load. With K_i what inverter i carries
// steadily, R_i its room in that direction,
//
//	L[n] = sum over m <= n and i of max(0, |K_i[m-1]| - max(R_i[m], |P_i[m]|))
//
// where K follows the AC power P down at once, starts anew at 0 where P changes its
// sign, and follows it up with a lag of 20 s:
//
//	K[n] = K[n-1] + (P[n] - K[n-1]) step / 20 s
//
// An inverter whose power turns round after it let something go lets nothing more
// go for an hour: a battery comes to its end once, and one that comes there again
// and again is being driven to and fro. L only ever grows: its range over a time is
// what was let go in it.
type forced struct {
	units [mostForced]carried
	lostW float64
}

// carried is what one inverter does.
type carried struct {
	steadyW float64
	let     bool  // it has let something go since its power turned round
	until   int64 // before this tick it lets nothing go
}

const (
	// mostForced is how many inverters are followed; further ones are taken to be
	// able to go on.
	mostForced = 32
	onceWithin = time.Hour
)

// see takes a step, and returns what was let go so far.
func (f *forced) see(s *Sample) float64 {
	for i := range s.Inverters[:min(len(s.Inverters), mostForced)] {
		f.lostW += f.units[i].see(s, &s.Inverters[i])
	}
	return f.lostW
}

// see returns what the inverter lets go in this step.
func (u *carried) see(s *Sample, v *InverterSample) (lostW float64) {
	p, k, room := v.ACPowerW, u.steadyW, v.ChargeRoomW
	if k < 0 {
		p, k, room = -p, -k, v.DischargeRoomW
	}
	if carries := max(room, p); k > carries && s.Tick >= u.until {
		lostW, u.let = k-carries, true
	}
	switch p := v.ACPowerW; {
	case p*u.steadyW < 0 || p == 0:
		if p != 0 && u.let {
			u.let, u.until = false, s.Tick+int64(onceWithin.Seconds()/s.StepS)
		}
		u.steadyW = 0
	case math.Abs(p) < math.Abs(u.steadyW):
		u.steadyW = p
	default:
		u.steadyW += (p - u.steadyW) * s.StepS / calmWithin.Seconds()
	}
	return lostW
}

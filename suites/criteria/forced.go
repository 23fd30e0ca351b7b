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
//	L[n] = sum over m <= n and i of max(0, |K_i[m-1]| - R_i[m])
//
// where K follows the AC power P down at once, is never more than the room, starts
// anew at 0 where P changes its sign, and follows it up with a lag of 20 s:
//
//	K[n] = K[n-1] + (P[n] - K[n-1]) step / 20 s
//
// L only ever grows: its range over a time is what was let go in it.
type forced struct {
	// once says that an inverter whose power turns round after it let something go
	// lets nothing more go for an hour: a battery comes to its end once, and one that
	// comes there again and again is being driven to and fro.
	once  bool
	units [mostForced]carried
	lostW float64
}

// carried is what one inverter does.
type carried struct {
	steadyW float64
	let     bool  // it has let something go since its power turned round
	until   int64 // before this tick nothing that it lets go counts
}

const (
	// mostForced is how many inverters are followed; further ones are taken to be
	// able to go on.
	mostForced = 32
	onceWithin = time.Hour
	// followS is the lag in s: what a battery must have carried for as long as
	// hunting asks of a calm.
	followS = float64(calmWithin / time.Second)
)

// see takes a step, and returns what was let go so far.
func (f *forced) see(s *Sample) float64 {
	rate := s.StepS / followS
	for i := range s.Inverters[:min(len(s.Inverters), mostForced)] {
		v, u := &s.Inverters[i], &f.units[i]
		room := v.ChargeRoomW
		if u.steadyW < 0 {
			room = v.DischargeRoomW
		}
		if lost := math.Abs(u.steadyW) - room; lost > 0 {
			u.steadyW = math.Copysign(room, u.steadyW)
			u.let = true
			if s.Tick >= u.until {
				f.lostW += lost
			}
		}
		switch p := v.ACPowerW; {
		case p*u.steadyW < 0:
			if u.let && f.once {
				u.until = s.Tick + int64(onceWithin.Seconds()/s.StepS)
			}
			u.steadyW, u.let = 0, false
		case math.Abs(p) < math.Abs(u.steadyW):
			u.steadyW = p
		default:
			k := u.steadyW + float64((p-u.steadyW)*rate)
			if k < -v.DischargeRoomW {
				k = -v.DischargeRoomW
			}
			if k > v.ChargeRoomW {
				k = v.ChargeRoomW
			}
			u.steadyW = k
		}
	}
	return f.lostW
}

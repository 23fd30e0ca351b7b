package trust

import "kilter/physics"

// design is one way to make several inverters work behind one inlet.
type design uint8

const (
	// central: every inverter follows a setpoint, and the controller integrates the
	// grid meter.
	central design = iota
	// trim: one inverter follows its own meter, and the controller gives the others
	// their share of the total, slowly.
	trim
	// pause: all follow their own meters, and the controller pauses those that work
	// against the rest.
	pause
	designs
)

func (d design) String() string {
	return [...]string{"central setpoints", "native trim, slow share", "supervisory pause"}[d]
}

// native says whether inverter i follows its own meter.
func (d design) native(i int) bool { return d == pause || d == trim && i == 0 }

// tuning is how the controller works, in ticks where it is a time.
type tuning struct {
	poll, phase int64
	link        int64   // from reading to effect
	gain        float64 // of central: share of the error that a poll corrects
	share       float64 // of trim: how far a poll brings the setpoints to their shares
}

// drawTuning draws all but the gains' scale.
func drawTuning(c chance, d design) tuning {
	u := tuning{gain: 1, share: c.between(0.3, 0.9)}
	switch d {
	case central:
		u.poll = pick(c, int64(10), 20, 30, 40, 50, 100, 150)
	default:
		u.poll = pick(c, int64(50), 100, 100, 150, 200)
	}
	u.phase = c.Int64N(u.poll)
	u.link = min(c.ticks(0, 2), u.poll-1)
	return u
}

// view is what the controller reads at a poll.
type view struct {
	gridW float64
	units []unitView
}

type unitView struct{ powerW, chargeRoomW, dischargeRoomW, ratingW float64 }

func (v *view) totalW() (sum float64) {
	for i := range v.units {
		sum += v.units[i].powerW
	}
	return sum
}

// roomW is what a unit can do in the direction of w.
func (u *unitView) roomW(w float64) float64 {
	if w < 0 {
		return u.dischargeRoomW
	}
	return u.chargeRoomW
}

// follow is the order to follow a setpoint.
func (u *unitView) follow(w float64) order {
	return order{mode: physics.FollowSetpoint, setW: w, chargeW: u.ratingW, dischargeW: u.ratingW}
}

// order is what the controller tells one inverter.
type order struct {
	mode                physics.Mode
	setW                float64
	chargeW, dischargeW float64 // the limits
}

// controller decides at each poll.
type controller interface {
	decide(v *view, orders []order)
}

func newController(d design, u tuning, s *physics.Site) controller {
	inverters := len(s.Inverters)
	switch d {
	case central:
		return &centralSetpoints{gain: u.gain, mostW: float64(u.poll) * stepS / slowestS(s) * ratingsW(s)}
	case trim:
		return &slowShare{share: u.share, setW: make([]float64, inverters)}
	}
	return &supervisor{pauses: make([]stance, inverters)}
}

// slowestS is how long the slowest ramp takes over its inverter's rating.
func slowestS(s *physics.Site) (seconds float64) {
	for i := range s.Inverters {
		v := &s.Inverters[i]
		for _, ramp := range []float64{v.RampUpWps, v.RampDownWps} {
			if ramp > 0 {
				seconds = max(seconds, v.RatingW/ramp)
			}
		}
	}
	return seconds
}

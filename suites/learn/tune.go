package learn

import "math"

// The parameters of a device that are tuned on the closed loops, in this order.
const (
	tuneGain   = iota // ln
	tuneOffset        // [W]
	tuneDead          // [s]
	tunePhase         // [s]; the dead time takes it back, so that the answer comes when it did
	tuneLag           // ln
	tuneRamp          // ln
	tuneCharge        // ln
	tuneDischarge
	tuned
)

// move is a device less or more in each parameter.
func (d Device) move(x [tuned]float64) Device {
	d.Gain *= math.Exp(x[tuneGain])
	d.OffsetW += x[tuneOffset]
	d.LagS *= math.Exp(x[tuneLag])
	d.RampWps *= math.Exp(x[tuneRamp])
	d.ChargeW *= math.Exp(x[tuneCharge])
	d.DischargeW *= math.Exp(x[tuneDischarge])
	phase := d.PhaseS + x[tunePhase]
	d.DeadS = onStep(max(d.DeadS+x[tuneDead]-x[tunePhase], 0))
	d.PhaseS = onStep(phase - d.RefreshS*math.Floor(phase/d.RefreshS))
	if d.PhaseS >= d.RefreshS-1e-9 {
		d.PhaseS = 0
	}
	return d
}

// deviations are how far each parameter may go, one standard deviation: what its interval says, and for what the log
// does not tell, about as much as a default may be wrong.
func (l *Learned) deviations() [tuned]float64 {
	sd := func(e Estimate, least, most float64) float64 {
		return min(max((e.High-e.Low)/(2*quantile), least), most)
	}
	byRatio := func(e Estimate, least, most float64) float64 {
		if !e.Identifiable || e.Low <= 0 {
			return most
		}
		return min(max(math.Log(e.High/e.Low)/(2*quantile), least), most)
	}
	return [tuned]float64{
		tuneGain: byRatio(l.Gain, 0.01, 0.1), tuneOffset: sd(l.Offset, 0.3, 3), tuneDead: sd(l.Dead, 0.1, 0.3), tunePhase: 0.3,
		tuneLag: min(sd(l.Lag, 0.02, 0.3)/max(l.Device.LagS, 0.1), 0.5), tuneRamp: byRatio(l.Ramp, 0.003, 0.2),
		tuneCharge: byRatio(l.ChargeLimit, 0.005, 0.3), tuneDischarge: byRatio(l.DischargeLimit, 0.005, 0.3),
	}
}

// tuning moves all parameters of all devices within what is known of them, one at a time, as long as the closed loops come
// closer to the log.
type tuning struct {
	c     *closed
	base  []Device
	sd    [][tuned]float64
	moved [][tuned]float64
	asked *Seen // what the log shows of the complaint; nil as long as the course alone is looked at
}

func newTuning(c *closed, units []*Learned) *tuning {
	t := &tuning{c: c, moved: make([][tuned]float64, len(units))}
	for i, l := range units {
		t.base = append(t.base, c.devices[i])
		t.sd = append(t.sd, l.deviations())
	}
	return t
}

// cost is how far the closed loops depart from the log, and the parameters from what was learned; once it is beyond most, the rest of
// it is not worked out.
func (t *tuning) cost(end int, most float64) float64 {
	t.c.play(end)
	sum := 0.0
	for i, u := range t.c.r.Units {
		for k, w := range u.PowerW[:end] {
			z := (w - t.c.run[i][k]) / trimScaleW
			if !math.IsNaN(z) {
				sum += math.Log1p(z * z)
			}
		}
		for p, v := range t.moved[i] {
			z := v / t.sd[i][p]
			sum += z * z / 2
		}
	}
	if t.asked != nil && sum < most {
		sum += t.complaint(end)
	}
	return sum
}

// complaint is how far the closed loops are from what the log shows of the complaint. Loops that hunt slip against the log in the end,
// however good the model, and no sample tells then whether they hunt alike.
func (t *tuning) complaint(end int) float64 {
	s := t.c.seen(end)
	off := func(a, b, floor, share float64) float64 {
		z := math.Log((a+floor)/(b+floor)) / share
		return z * z / 2
	}
	sum := off(s.CirculatingW, t.asked.CirculatingW, complaintFloorW, complaintShare)
	if o := t.asked.Oscillation; o.Found {
		sum += off(s.Oscillation.PeriodS, o.PeriodS, 0.01, complaintShare/2) + off(s.Oscillation.AmplitudeW, o.AmplitudeW, complaintFloorW, complaintShare)
	}
	return sum
}

// met says whether the closed loops show the complaint as the log does.
func (t *tuning) met(end int) bool {
	t.c.play(end)
	return t.complaint(end) < complaintMet
}

// reach tunes until the complaint shows as asked, first on the course alone, and says whether it came to that.
func (t *tuning) reach(asked *Seen) bool {
	end := len(t.c.rest)
	t.asked = asked
	if t.met(end) {
		return true
	}
	t.asked = nil
	t.tune(end)
	t.asked = asked
	if !t.met(end) {
		t.tune(end)
	}
	return t.met(end)
}

const (
	complaintShare  = 0.01 // by how much amplitude and circulating power may differ, one standard deviation; the period by half of it
	complaintFloorW = 5.0
	complaintMet    = 4.0 // all within some two or three standard deviations

	tuneRounds = 12   // through all parameters, at most
	tuneFinest = 0.05 // of a standard deviation
	tuneEnough = 0.3  // by how much a round must improve the cost to be followed by one with the same steps
	tuneTimesS = 0.1  // least step of a time, the bench's
	trimScaleW = 60.0 // departures beyond this are another's doing, and count less [W]
)

func (t *tuning) tune(end int) {
	best := t.cost(end, math.Inf(1))
	share := 0.5
	for range tuneRounds {
		before := best
		for i := range t.base {
			for p := range tuned {
				step := share * t.sd[i][p]
				if p == tuneDead || p == tunePhase {
					step = tuneTimesS
				}
				for _, sign := range []float64{1, -1} {
					won := false
					for range 6 { // on in a direction that pays, in longer steps
						kept, device := t.moved[i][p], t.c.devices[i]
						t.moved[i][p] += sign * step
						t.c.devices[i] = t.base[i].move(t.moved[i])
						s := t.cost(end, best)
						if !(s < best-1e-6) {
							t.moved[i][p], t.c.devices[i] = kept, device
							break
						}
						best, won = s, true
						if p != tuneDead && p != tunePhase {
							step *= 1.6
						}
					}
					if won {
						break
					}
				}
			}
		}
		if t.asked != nil && t.met(end) {
			return
		}
		if best > before-tuneEnough {
			if share /= 2; share < tuneFinest {
				return
			}
		}
	}
}

package physics

// actuator turns a wanted power into an output power: a ramp limit, then a
// first-order lag. Both are solved exactly over a tick.
//
// While the ramp r moves with slope s from r0, the lag tau y' = r - y has the
// solution y(t) = r(t) - s tau + (y0 - r0 + s tau) e^(-t/tau), and its mean over h is
// mean(r) - tau (y(h) - y0)/h, which follows from integrating tau y' = r - y. The tick
// is split where the ramp reaches its end. Source: closed form of the linear
// equation; common practice.
type actuator struct {
	up, down float64 // ramp limits [W/s]; 0 means none
	tau      float64 // lag [s]; 0 means none
	h        float64 // tick [s]
	decay    float64 // e^(-h/tau)
	perH     float64 // 1/h [1/s]
	lagTicks float64 // tau/h
	perTau   float64
	perUp    float64
	perDown  float64

	ramp  float64 // r at the end of the last tick [W]
	value float64 // y at the end of the last tick [W]
	mean  float64 // mean of y over the last tick [W]
}

func newActuator(up, down, tau, h float64) actuator {
	a := actuator{up: up, down: down, tau: tau, h: h, perH: 1 / h, lagTicks: tau / h}
	if tau > 0 {
		a.decay, a.perTau = exp(-h/tau), 1/tau
	}
	if up > 0 {
		a.perUp = 1 / up
	}
	if down > 0 {
		a.perDown = 1 / down
	}
	return a
}

// move follows the wanted power for one tick.
func (a *actuator) move(want float64) {
	if a.ramp == want {
		if a.value == want { // at rest, the common case
			a.mean = want
			return
		}
		a.hold(want)
		return
	}
	slope, perSlope := a.up, a.perUp
	if want < a.ramp {
		slope, perSlope = -a.down, -a.perDown
	}
	if slope == 0 {
		a.ramp = want
		a.hold(want)
		return
	}
	rest := float64((want - a.ramp) * perSlope) // time until the ramp ends [s]
	if rest >= a.h {
		r0, y0 := a.ramp, a.value
		r1 := r0 + float64(slope*a.h)
		y1 := r1
		if a.tau > 0 {
			st := float64(slope * a.tau)
			y1 = (r1 - st) + float64((y0-r0+st)*a.decay)
		}
		a.mean = float64((r0+r1)/2) - float64(a.lagTicks*(y1-y0))
		a.ramp, a.value = r1, y1
		return
	}
	// The ramp ends within the tick.
	r0, y0 := a.ramp, a.value
	area := float64((r0 + want) / 2 * rest)
	area += float64(want * (a.h - rest))
	y1 := want
	if a.tau > 0 {
		st, ramped := float64(slope*a.tau), exp(-(rest * a.perTau))
		ym := (want - st) + float64((y0-r0+st)*ramped)
		y1 = want + float64((ym-want)*(a.decay/ramped)) // e^(-(h-rest)/tau)
	}
	a.mean = float64(area*a.perH) - float64(a.lagTicks*(y1-y0))
	a.ramp, a.value = want, y1
}

// hold follows a constant ramp value for one tick.
func (a *actuator) hold(r float64) {
	if a.tau == 0 {
		a.value, a.mean = r, r
		return
	}
	y0 := a.value
	a.value = r + float64((y0-r)*a.decay)
	a.mean = r - float64(a.lagTicks*(a.value-y0))
}

// force sets the output at once, as a contactor or an empty battery does.
func (a *actuator) force(v float64) { a.ramp, a.value, a.mean = v, v, v }

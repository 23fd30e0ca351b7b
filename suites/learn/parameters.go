package learn

import "math"

// The parameters of a device that are fitted, in this order.
const (
	atGain = iota // ln
	atLag         // ln
	atRamp        // ln
	atDead
	atPhase
	atOffset
	atMost // ln
	parameters
)

// prior says what is assumed of a parameter before the log is looked at: a centre and a wide spread. It keeps the fit
// from running away along what the log does not tell.
type prior struct{ centre, spread float64 }

var priors = [parameters]prior{
	atGain:   {math.Log(0.2), 2},
	atLag:    {math.Log(0.5), 1.2},
	atRamp:   {math.Log(1500), 2},
	atDead:   {0.5, 3},
	atPhase:  {0, 1e3},
	atOffset: {0, 200},
	atMost:   {math.Log(5000), 1},
}

// vector and device turn a device into parameters and back.
func (d *Device) vector() [parameters]float64 {
	most := priors[atMost].centre // where nothing of it is fitted
	if d.ChargeOpen || d.DischargeOpen {
		most = math.Log(d.mostW())
	}
	return [parameters]float64{math.Log(d.Gain), math.Log(d.LagS), math.Log(d.RampWps), d.DeadS, d.PhaseS, d.OffsetW, most}
}

func (d Device) with(x []float64) Device {
	bound := func(v, low, high float64) float64 { return min(max(v, low), high) }
	d.Gain = math.Exp(bound(x[atGain], -7, 1.5))
	d.LagS = math.Exp(bound(x[atLag], -4, 3.5))
	d.RampWps = math.Exp(bound(x[atRamp], 1, 12))
	d.DeadS = bound(x[atDead], 0, 30)
	d.PhaseS = bound(x[atPhase], -d.RefreshS, 2*d.RefreshS)
	d.OffsetW = bound(x[atOffset], -5000, 5000)
	return d.limited(math.Exp(bound(x[atMost], 4, 14)))
}

// wrapped is the device with its phase within one refresh of its meter. A fit may go beyond, else it would stop at either end.
func (d Device) wrapped() Device {
	d.PhaseS -= d.RefreshS * math.Floor(d.PhaseS/d.RefreshS)
	return d
}

// steps are the changes by which derivatives are taken.
var steps = [parameters]float64{atGain: 0.02, atLag: 0.05, atRamp: 0.02, atDead: 0.02, atPhase: 0.05, atOffset: 0.5, atMost: 0.005}

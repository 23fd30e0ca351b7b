package physics

// Alone is an inverter's native loop and its output by themselves, for those who fit them to what was recorded: the
// readings are given, there is no site around it and no battery behind it, and its dead time is left to the caller, who
// shifts the output. What it does with the readings is bit for bit what the same inverter does in a Plant, as long as neither a
// command nor its battery has a say (tested).
type Alone struct {
	PowerW  float64 // AC power at the end of the last tick [W], charging positive
	WantedW float64 // what its loop asks of its output [W], within its limits

	loop      nativeLoop
	out       actuator
	low, high float64
}

// NewAlone makes one of an inverter's parameters, of which it takes the loop, the ramps, the lag, the power at the
// start, and the battery's largest powers as its limits; ticks last stepS [s].
func NewAlone(p *InverterParams, stepS float64) Alone {
	a := Alone{
		loop: nativeLoop{
			gain: p.Loop.Gain, target: p.Loop.TargetW, form: p.Loop.Form, kind: p.Loop.Deadband,
			deadband: p.Loop.DeadbandW, keep: 1 - p.Loop.Leak,
		},
		out: newActuator(p.RampUpWps, p.RampDownWps, p.LagS, stepS),
		low: -min(p.RatingW, p.Battery.MaxDischargeW), high: min(p.RatingW, p.Battery.MaxChargeW),
	}
	a.WantedW, a.PowerW = p.InitialW, p.InitialW
	a.out.force(p.InitialW)
	return a
}

// Sample has its loop take one sample of its meter's reading [W].
func (a *Alone) Sample(readingW float64) {
	a.WantedW = clamp(a.loop.sample(a.WantedW, a.out.value, readingW), a.low, a.high)
}

// Step moves it by one tick, and returns its power at the end [W].
func (a *Alone) Step() float64 {
	if a.WantedW == a.out.ramp {
		a.out.hold(a.WantedW)
	} else {
		a.out.move(a.WantedW)
	}
	a.PowerW = a.out.value
	return a.PowerW
}

package learn

import (
	"math"

	"kilter/physics"
)

// Device is what a native inverter is made of, as far as a log can tell.
type Device struct {
	Gain     float64 // of its loop per sample [1]
	PeriodS  float64 // of its loop [s]
	RefreshS float64 // of the meter that it follows, a multiple of the loop's period [s]
	PhaseS   float64 // when the loop samples for the first time [s]
	// DeadS is the time from the meter's sample to the output's first change [s]: dead time, the meter's latency and
	// the wait for the loop's next sample, which no log of powers can tell apart.
	DeadS   float64
	LagS    float64 // time constant of the output [s]
	RampWps float64 // largest rise and fall [W/s]
	// OffsetW is the meter's error against the logged grid flow, less the loop's target [W].
	OffsetW    float64
	ChargeW    float64 // largest charging power [W]
	DischargeW float64 // largest discharging power [W]
	// ChargeOpen and DischargeOpen say that the log never shows the output standing at that limit, so that it is fitted: one figure
	// for both, as a converter's rating holds both ways.
	ChargeOpen, DischargeOpen bool
}

// unlimitedW is a largest power that holds nothing back [W].
const unlimitedW = 1e6

// mostW is the largest power that is fitted [W].
func (d *Device) mostW() float64 {
	if d.ChargeOpen {
		return d.ChargeW
	}
	return d.DischargeW
}

// limited is the device with another figure for what is open of its limits [W].
func (d Device) limited(mostW float64) Device {
	if d.ChargeOpen {
		d.ChargeW = mostW
	}
	if d.DischargeOpen {
		d.DischargeW = mostW
	}
	return d
}

// tick is the step at which the model is worked out for a log of a step [s]; the periods are multiples of it.
func tick(stepS float64) float64 {
	if stepS < 5 {
		return 0.1
	}
	return 0.5
}

// params is the device as the plant knows it, without its dead time.
func (d *Device) params(startW float64) physics.InverterParams {
	return physics.InverterParams{
		RatingW: max(d.ChargeW, d.DischargeW), Efficiency: 1, RampUpWps: d.RampWps, RampDownWps: d.RampWps, LagS: d.LagS,
		InitialW: min(max(startW, -d.DischargeW), d.ChargeW),
		Battery:  physics.BatteryParams{MaxChargeW: d.ChargeW, MaxDischargeW: d.DischargeW},
		Loop:     physics.LoopParams{Gain: d.Gain, PeriodS: d.PeriodS},
	}
}

// respond is what the device puts out at each tick, without its dead time, while its meter sees a flow. Time counts from
// the loop's first sample; the first value is that of the start. askedW is the most that its loop asks for, either way [W].
func (d *Device) respond(seen flow, startW, spanS, stepS float64, out []float64) (_ []float64, askedW float64) {
	p := d.params(startW)
	h := tick(stepS)
	v := physics.NewAlone(&p, h)
	ticks := int(math.Ceil(spanS / h))
	period, refresh := int(math.Round(d.PeriodS/h)), int(math.Round(d.RefreshS/h))
	out = append(out[:0], v.PowerW)
	reading := 0.0
	due, fresh := 0, 0
	for n := range ticks {
		if n == fresh {
			reading = seen.at(d.PhaseS+float64(n)*h) + d.OffsetW
			fresh += refresh
		}
		if n == due {
			v.Sample(reading)
			askedW = max(askedW, math.Abs(v.WantedW))
			due += period
		}
		out = append(out, v.Step())
	}
	return out, askedW
}

// series is a quantity at even times from 0 on, linear between them.
type series struct {
	everyS float64
	values []float64
}

func (s series) at(t float64) float64 {
	x := t / s.everyS
	if x <= 0 {
		return s.values[0]
	}
	n := int(x)
	if n+1 >= len(s.values) {
		return s.values[len(s.values)-1]
	}
	return s.values[n] + (s.values[n+1]-s.values[n])*(x-float64(n))
}

// flow is what a meter sees over a stretch.
type flow = series

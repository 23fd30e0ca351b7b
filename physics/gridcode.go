package physics

import (
	"fmt"
	"math"
)

// The curves below are defaults that the named documents print. The one sign holds here too:
// reactive power INTO the device is positive, so that a device which raises the voltage by injecting
// shows a negative value where those documents print a positive one.

// VoltVarCategoryA is the reactive power [1 of the rating, absorbing positive] over voltage [1 of nominal].
// Source: IEEE Std 1547-2018 table 8, Category A, from memory; check values GC-04 and GC-05.
func VoltVarCategoryA() Curve { return Curve{{0.90, -0.25}, {1.00, 0}, {1.00, 0}, {1.10, 0.25}} }

// VoltVarCategoryB is the same of Category B. Source: IEEE Std 1547-2018 table 8; check values GC-01 and GC-02.
func VoltVarCategoryB() Curve { return Curve{{0.92, -0.44}, {0.98, 0}, {1.02, 0}, {1.08, 0.44}} }

// VoltVarAustraliaA is the reactive power [1 of the rating, absorbing positive] over the phase voltage [V].
// Source: AS/NZS 4777.2:2020, Australia A; check values GC-37 and GC-38.
func VoltVarAustraliaA() Curve { return Curve{{207, -0.44}, {220, 0}, {240, 0}, {258, 0.60}} }

// VoltWatt1547 is the largest active power that a device may inject [1 of the rating] over voltage
// [1 of nominal]. Source: IEEE Std 1547-2018 table 10; check values GC-06 and GC-07.
func VoltWatt1547() Curve { return Curve{{1.06, 1}, {1.10, 0.2}} }

// VoltWattAustraliaA is the same over the phase voltage [V]. Source: AS/NZS 4777.2:2020, Australia A; check
// values GC-39 and GC-40.
func VoltWattAustraliaA() Curve { return Curve{{253, 1}, {260, 0.2}} }

// Open-loop response times of the volt-var function [s]. Source: IEEE Std 1547-2018 table 8; check
// values GC-03, and GC-04 from memory.
const (
	VoltVarResponseCategoryAS = 10.0
	VoltVarResponseCategoryBS = 5.0
)

// ResponseLag is the lag tau [s] of a first-order response whose open-loop response time, until 90
// % of the change has been made, is responseS [s]: tau = T / ln 10. Source: IEEE Std 1547-2018
// clause 3.1 (the definition from memory).
func ResponseLag(responseS float64) float64 { return responseS / log(10) }

// CurveResponse is a device's answer to a measured quantity by a curve, with a first-order open-loop
// response.
type CurveResponse struct {
	curve Curve
	lag   actuator
}

// NewCurveResponse makes a response with an open-loop response time [s] (0 for at once), to be
// stepped by ticks of stepS [s], that has been at rest at the quantity at.
func NewCurveResponse(c Curve, responseS, at, stepS float64) CurveResponse {
	r := CurveResponse{curve: c, lag: newActuator(0, 0, ResponseLag(responseS), stepS)}
	r.lag.force(c.At(at))
	return r
}

// Step follows the measured quantity for one tick; it returns the answer at the tick's end.
func (r *CurveResponse) Step(measured float64) float64 {
	r.lag.move(r.curve.At(measured))
	return r.lag.value
}

// Value is the answer at the end of the last tick, and Mean that over it.
func (r *CurveResponse) Value() float64 { return r.lag.value }
func (r *CurveResponse) Mean() float64  { return r.lag.mean }

// Droop is a device's change of active power with frequency f, in load convention (positive means that it
// injects less, or draws more), as a share of its reference power:
//
//	(f - OverHz) / (NominalHz OverDroop)      above OverHz
//	(f - UnderHz) / (NominalHz UnderDroop)    below UnderHz
//	0                                         between
//
// A droop of 0 switches that side off. What the device cannot do (more than it has, less than
// nothing) is for the caller to clamp.
type Droop struct {
	NominalHz             float64
	UnderHz, OverHz       float64 // thresholds [Hz]
	UnderDroop, OverDroop float64 // relative change of frequency for the whole reference power [1]
}

// Droop1547 is the default of IEEE Std 1547-2018 table 24 for a nominal frequency [Hz]: deadband
// 0.036 Hz, droop 5 %; the reference power is the rating. From memory; check values GC-08 and
// GC-09.
func Droop1547(nominalHz float64) Droop {
	return Droop{NominalHz: nominalHz, UnderHz: nominalHz - 0.036, OverHz: nominalHz + 0.036, UnderDroop: 0.05, OverDroop: 0.05}
}

// Droop1547ResponseS is the open-loop response time of that function [s]; from memory, check value GC-08.
const Droop1547ResponseS = 5.0

// LFSM is the limited frequency sensitive mode at over- and under-frequency in a 50 Hz system, with
// thresholds [Hz] and droops [1] within the ranges that the sources allow: LFSM-O 50.2 to 50.5 Hz,
// LFSM-U 49.5 to 49.8 Hz, both 2 to 12 %. A droop of 0 leaves that side out. The reference power of
// a converter is its actual power when the threshold is passed (GC-35). Source: Commission
// Regulation (EU) 2016/631 article 13(2), EN 50549-1:2019 clause 4.6.1; check values GC-30 to
// GC-34.
func LFSM(underHz, underDroop, overHz, overDroop float64) (Droop, error) {
	for _, x := range []struct {
		name                 string
		hz, low, high, droop float64
	}{{"LFSM-U", underHz, 49.5, 49.8, underDroop}, {"LFSM-O", overHz, 50.2, 50.5, overDroop}} {
		switch {
		case x.droop == 0:
		case !(x.droop >= 0.02 && x.droop <= 0.12):
			return Droop{}, fmt.Errorf("%s: droop is %g %%; it must be between 2 and 12 %%", x.name, 100*x.droop)
		case !(x.hz >= x.low && x.hz <= x.high):
			return Droop{}, fmt.Errorf("%s: threshold is %g Hz; it must be between %g and %g Hz", x.name, x.hz, x.low, x.high)
		}
	}
	return Droop{NominalHz: 50, UnderHz: underHz, OverHz: overHz, UnderDroop: underDroop, OverDroop: overDroop}, nil
}

// LFSMDefault is LFSM with 49.8 and 50.2 Hz and 5 % each: 40 % of the reference power per Hz.
// VDE-AR-N 4105:2018 clause 5.7.4.2 uses the same from 50.2 to 51.5 Hz (from memory, GC-36).
func LFSMDefault() Droop {
	return Droop{NominalHz: 50, UnderHz: 49.8, OverHz: 50.2, UnderDroop: 0.05, OverDroop: 0.05}
}

// Change is the change of power at a frequency [Hz], as a share of the reference power, in load convention.
func (d *Droop) Change(hz float64) float64 {
	switch {
	case hz > d.OverHz && d.OverDroop > 0:
		return (hz - d.OverHz) / (d.NominalHz * d.OverDroop)
	case hz < d.UnderHz && d.UnderDroop > 0:
		return (hz - d.UnderHz) / (d.NominalHz * d.UnderDroop)
	}
	return 0
}

// FrequencyResponse is a device that follows a Droop: it remembers its power when the threshold is passed,
// answers after an initial delay with a first-order response, and holds the deepest answer until the
// frequency has been back between the thresholds for ReleaseS.
type FrequencyResponse struct {
	par          FrequencyParams
	lag          actuator
	referenceW   float64
	away         bool // outside the thresholds, or not yet released
	delay        delay
	held         float64 // the deepest change since the threshold was passed [1]
	backTicks    int64
	releaseTicks int64
}

// What EN 50549-1 clause 4.6.1 asks of a response to frequency; from memory, check value GC-45.
const (
	LongestFrequencyDelayS     = 2.0  // initial delay [s]
	CoarsestFrequencyReadingHz = 0.01 // resolution of the measurement [Hz]
)

// FrequencyParams describe a FrequencyResponse.
type FrequencyParams struct {
	Droop     Droop
	RatingW   float64 // the reference power [W]; 0 means the power when the threshold is passed
	DelayS    float64 // initial delay [s]
	ResponseS float64 // open-loop response time [s]
	Hold      bool    // keep the deepest change until release
	ReleaseS  float64 // time between the thresholds before release [s]; 600 s appears as a default (GC-36, from memory)
}

// NewFrequencyResponse makes a response at rest at nominal frequency, to be stepped by ticks of stepS [s].
func NewFrequencyResponse(p FrequencyParams, stepS float64) FrequencyResponse {
	return FrequencyResponse{
		par: p, lag: newActuator(0, 0, ResponseLag(p.ResponseS), stepS),
		delay: newDelay(wholeTicks(p.DelayS, stepS), 0), releaseTicks: wholeTicks(p.ReleaseS, stepS),
	}
}

// Step follows the frequency [Hz] for one tick. powerW is what the device does without the response [W], load
// convention; the change that it makes to it [W] is returned.
func (r *FrequencyResponse) Step(hz, powerW float64) float64 {
	change := r.par.Droop.Change(hz)
	switch {
	case change != 0:
		if !r.away {
			r.away, r.held = true, 0
			r.referenceW = r.par.RatingW
			if r.referenceW == 0 {
				r.referenceW = max(powerW, -powerW)
			}
		}
		r.backTicks = 0
		if r.held*change < 0 { // straight from one side to the other
			r.held = 0
		}
		if change > 0 {
			r.held = max(r.held, change)
		} else {
			r.held = min(r.held, change)
		}
	case r.away:
		if r.backTicks++; r.backTicks > r.releaseTicks {
			r.away, r.held = false, 0
		}
	}
	if r.par.Hold {
		change = r.held
	}
	r.lag.move(r.delay.shift(change * r.referenceW))
	return r.lag.value
}

// wholeTicks is the number of ticks that a time takes, rounded up but for rounding noise.
func wholeTicks(seconds, stepS float64) int64 {
	return int64(math.Ceil(seconds/stepS - 1e-9))
}

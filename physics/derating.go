package physics

import (
	"fmt"
	"math"
)

// Derating is how temperature reduces what a battery may take and give: the share of its largest power [1] over
// temperature [degC], each a Curve. Lithium cells commonly take nothing under 0 degC
// and full power from about 15 to 45 degC; common practice, no source. A nil curve does not derate.
type Derating struct{ Charge, Discharge Curve }

// Check says what is wrong with the curves, or nil.
func (d *Derating) Check() error {
	for _, x := range []struct {
		name  string
		curve Curve
	}{{"charging", d.Charge}, {"discharging", d.Discharge}} {
		if x.curve == nil {
			continue
		}
		if err := x.curve.Check(); err != nil {
			return fmt.Errorf("derating of %s: %w", x.name, err)
		}
		for i, p := range x.curve {
			if p.Y < 0 || p.Y > 1 {
				return fmt.Errorf("derating of %s: point %d leaves %g of the power; it must be between 0 and 1", x.name, i+1, p.Y)
			}
		}
	}
	return nil
}

// Limits are the largest charging and discharging powers [W], as magnitudes, at a temperature [degC].
func (d *Derating) Limits(tempC, maxChargeW, maxDischargeW float64) (chargeW, dischargeW float64) {
	if d.Charge != nil {
		maxChargeW *= d.Charge.At(tempC)
	}
	if d.Discharge != nil {
		maxDischargeW *= d.Discharge.At(tempC)
	}
	return maxChargeW, maxDischargeW
}

// ThermalNode is one mass with one path to its surroundings:
//
//	C dT/dt = P - (T - Ta) / R
//
// P is the heat put into it [W], Ta the ambient temperature [degC], both constant over a tick, which makes
// the exponential exact. Source: lumped capacity, common practice.
type ThermalNode struct {
	TempC float64 // [degC]

	ohm   float64 // R [K/W]
	decay float64
}

// NewThermalNode makes a node of capacity [J/K] behind a resistance [K/W], to be stepped by ticks of stepS [s].
func NewThermalNode(capacityJpK, resistanceKpW, tempC, stepS float64) ThermalNode {
	return ThermalNode{TempC: tempC, ohm: resistanceKpW, decay: exp(-stepS / (capacityJpK * resistanceKpW))}
}

// Step moves the node by one tick.
func (n *ThermalNode) Step(heatW, ambientC float64) {
	end := ambientC + float64(heatW*n.ohm)
	n.TempC = end + float64((n.TempC-end)*n.decay)
}

// ReportParams say how a reported state of charge differs from the true one.
type ReportParams struct {
	Resolution      float64 // the report is a multiple of this [1]; 0 means not rounded
	LagS            float64 // first-order lag of what is shown [s]; 0 means none
	GainError       float64 // the counter counts (1 + GainError) of each true change [1]
	InitialError    float64 // the counter's error at the start [1]
	RecalibrateHigh float64 // the counter is set right when the true value reaches this [1]; 0 means never
	RecalibrateLow  float64 // and when it falls to this [1]; 0 means never
}

// ReportedSOC is the state of charge that a battery tells, which is counted, and so drifts from the
// true one until an end is reached, where the voltage tells the truth and the report jumps.
// Rounding is to the nearest multiple, halves up; the report stays within 0 and 1. Common practice,
// no source.
type ReportedSOC struct {
	Value float64 // what is told [1]
	Error float64 // the counter less the true value [1]

	par   ReportParams
	decay float64
	was   float64 // true value at the last tick
	shown float64 // the counter behind the lag
}

// NewReportedSOC makes a report of a true state of charge, to be stepped by ticks of stepS [s].
func NewReportedSOC(p ReportParams, soc, stepS float64) ReportedSOC {
	r := ReportedSOC{par: p, Error: p.InitialError, was: soc}
	if p.LagS > 0 {
		r.decay = exp(-stepS / p.LagS)
	}
	r.shown = soc + r.Error
	r.tell()
	return r
}

// Step follows the true state of charge for one tick.
func (r *ReportedSOC) Step(soc float64) {
	p := &r.par
	r.Error += float64(p.GainError * (soc - r.was))
	r.was = soc
	if p.RecalibrateHigh > 0 && soc >= p.RecalibrateHigh || p.RecalibrateLow > 0 && soc <= p.RecalibrateLow {
		r.Recalibrate()
	}
	end := soc + r.Error
	r.shown = end + float64((r.shown-end)*r.decay)
	r.tell()
}

// Recalibrate sets the counter right at once; the report jumps, past its lag.
func (r *ReportedSOC) Recalibrate() { r.Jump(-r.Error) }

// Jump moves the counter by a step [1]; the report follows at once, past its lag.
func (r *ReportedSOC) Jump(by float64) {
	r.Error += by
	r.shown = r.was + r.Error
	r.tell()
}

func (r *ReportedSOC) tell() {
	v := r.shown
	if r.par.Resolution > 0 {
		v = math.Floor(v/r.par.Resolution+0.5) * r.par.Resolution
	}
	r.Value = min(max(v, 0), 1)
}

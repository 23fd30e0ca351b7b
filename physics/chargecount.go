package physics

import (
	"fmt"
	"math"
)

// CoulombCount is the state of charge [1] after a current [A], charging positive, has flowed for
// hours [h] into a capacity [Ah]: SOC + I t / Q. Check value BA-01.
func CoulombCount(soc, currentA, hours, capacityAh float64) float64 {
	return soc + float64(currentA*hours)/capacityAh
}

// SplitRoundTrip divides a round-trip efficiency equally between charging and discharging: its
// square root each way. Check value BA-05.
func SplitRoundTrip(roundTrip float64) float64 { return math.Sqrt(roundTrip) }

// RoundTripEfficiency is the energy given on discharge over the energy that it takes to restore the
// initial state of charge, both measured at the same place. There is no such figure for an interval
// that ends at another state of charge than it began with, beyond tolerance [1]: that is an error.
// Source: ISO 12405 series, term 3.11; check values BA-06 and BA-07.
func RoundTripEfficiency(chargedWh, dischargedWh, startSOC, endSOC, tolerance float64) (float64, error) {
	if math.Abs(endSOC-startSOC) > tolerance {
		return 0, fmt.Errorf("the interval began at %.1f %% state of charge and ended at %.1f %%; a round trip ends where it began",
			100*startSOC, 100*endSOC)
	}
	if !(chargedWh > 0) {
		return 0, fmt.Errorf("%g Wh were charged; a round trip needs more than 0", chargedWh)
	}
	return dischargedWh / chargedWh, nil
}

// AvailableWh is the energy in store [Wh] of a battery of rated energy [Wh] at a state of charge
// and a state of health [1]: their product. Source: the identity in SunSpec model 713; check value
// BA-08.
func AvailableWh(ratedWh, soc, health float64) float64 { return ratedWh * soc * health }

// ChargePhases are the two phases of charging with constant current and then constant voltage.
type ChargePhases struct {
	VoltageFromSOC float64 // where the constant voltage begins [1]
	CurrentS       float64 // time at constant current [s]
	TimeConstantS  float64 // of the current's decay at constant voltage [s]
	VoltageS       float64 // time at constant voltage until the cut-off current [s]
	EndSOC         float64 // [1]
}

// PlanCharge is the closed form of charging from fromSOC [1] where OCV = emptyV + riseV SOC [V] and
// a resistance [ohm] of a cell of capacityAh [Ah]: at currentA [A] until the terminals are at maxV
// [V], then at maxV until cutoffA [A]. At constant voltage the current decays with tau = 3600 R Q /
// riseV. Check values BA-40 to BA-44. Not modelled: a branch R1 C1. Valid for cutoffA <= currentA,
// fromSOC below where the voltage phase begins.
func PlanCharge(emptyV, riseV, capacityAh, ohm, currentA, maxV, cutoffA, fromSOC float64) ChargePhases {
	p := ChargePhases{VoltageFromSOC: (maxV - float64(currentA*ohm) - emptyV) / riseV}
	p.CurrentS = (p.VoltageFromSOC - fromSOC) * capacityAh * 3600 / currentA
	p.TimeConstantS = ohm * capacityAh * 3600 / riseV
	p.VoltageS = p.TimeConstantS * log(currentA/cutoffA)
	p.EndSOC = (maxV - float64(cutoffA*ohm) - emptyV) / riseV
	return p
}

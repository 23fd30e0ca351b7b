package physics

import "math"

// ThermalReplica follows the heating of a protected conductor:
//
//	tau dTheta/dt = i^2 - Theta
//
// with i the current as a multiple of the rated one [1]; it trips at Theta = PickUp^2. The current
// is constant over a tick, which makes the exponential exact. Source: IEC 60255-149; check value
// OC-15.
type ThermalReplica struct {
	Theta  float64 // heating [1]; 1 is the steady state at the rated current
	PickUp float64 // current that is carried for ever [multiple of the rated one]

	decay float64
}

// NewThermalReplica makes a cold replica with a time constant [s], to be stepped by ticks of stepS [s].
func NewThermalReplica(tauS, pickUp, stepS float64) ThermalReplica {
	return ThermalReplica{PickUp: pickUp, decay: exp(-stepS / tauS)}
}

// Step lets a current flow for one tick and says whether the replica is at or over its pick-up at
// the tick's end.
func (r *ThermalReplica) Step(current float64) bool {
	end := float64(current * current)
	r.Theta = end + float64((r.Theta-end)*r.decay)
	return r.Theta >= r.PickUp*r.PickUp
}

// ReplicaTripS is the time [s] that a replica takes at a constant current from the heating theta:
//
//	tau ln((i^2 - theta) / (i^2 - k^2))
//
// +Inf where i <= k, and 0 where theta is over k^2 already. Source: IEC 60255-149; check value OC-15.
func ReplicaTripS(tauS, current, pickUp, theta float64) float64 {
	i2, k2 := float64(current*current), float64(pickUp*pickUp)
	switch {
	case theta >= k2:
		return 0
	case i2 <= k2:
		return math.Inf(1)
	}
	return tauS * log((i2-theta)/(i2-k2))
}

// JouleIntegral is I2t [A2s] of a constant current [A] over a time [s]. Check value OC-12.
func JouleIntegral(currentA, seconds float64) float64 { return currentA * currentA * seconds }

// CopperPVC is k of copper with PVC insulation [A sqrt(s) / mm2]. Source: IEC 60364-4-43 table 43A;
// check value OC-13.
const CopperPVC = 115.0

// CableWithstand is the I2t that a conductor of a cross-section [mm2] withstands: k^2 S^2 [A2s].
// Valid to 5 s, while no heat leaves. Source: IEC 60364-4-43 clause 434.5.2 (the clause from
// memory); check value OC-13.
func CableWithstand(k, mm2 float64) float64 { return k * k * mm2 * mm2 }

// CableWithstandS is the time [s] for which it withstands a current [A]: k^2 S^2 / I^2. Check value OC-14.
func CableWithstandS(k, mm2, currentA float64) float64 {
	return CableWithstand(k, mm2) / (currentA * currentA)
}

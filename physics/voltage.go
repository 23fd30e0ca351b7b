package physics

import "math"

// Impedance is a series impedance R + jX [ohm].
type Impedance struct{ ResistanceOhm, ReactanceOhm float64 }

// ReferenceImpedance is that of a low-voltage supply at 50 Hz, phase and neutral together. Source:
// IEC 60725 (secondary); check value GV-20.
func ReferenceImpedance() Impedance { return Impedance{0.40, 0.25} }

// ReferencePhaseImpedance is the part of the phase conductor alone, which is all that a balanced
// three-phase load sees, and ReferenceNeutralImpedance that of the neutral. Source: IEC 61000-3-3
// figure 1, from memory (check value GV-21).
func ReferencePhaseImpedance() Impedance   { return Impedance{0.24, 0.15} }
func ReferenceNeutralImpedance() Impedance { return Impedance{0.16, 0.10} }

// Plus is two impedances in series.
func (z Impedance) Plus(y Impedance) Impedance {
	return Impedance{z.ResistanceOhm + y.ResistanceOhm, z.ReactanceOhm + y.ReactanceOhm}
}

// VoltageChangeApprox is the textbook's approximation of the change of voltage at the end of a
// source impedance [V] under a load of p [W] and q [var], import positive:
//
//	dV = -(P R + Q X) / Vs
//
// It understates a drop and overstates a rise: the exact change (VoltageAtInlet) is always the
// lower one. Check values GV-01 to GV-11.
func VoltageChangeApprox(sourceV float64, z Impedance, p, q float64) float64 {
	return -(float64(p*z.ResistanceOhm) + float64(q*z.ReactanceOhm)) / sourceV
}

// VoltageUnderCurrent is the voltage at the end of a source impedance [V] under a device of
// constant current [A], import positive, at a power factor at its own terminals [1] (positive
// lagging, negative leading; 1 is unity):
//
//	Vs^2 = (V + I (R cos + X sin))^2 + I^2 (X cos - R sin)^2
//
// It returns 0 where the source cannot drive so much. Source: the phasor triangle, by hand; equal
// to VoltageAtInlet of the power that this makes.
func VoltageUnderCurrent(sourceV float64, z Impedance, currentA, powerFactor float64) float64 {
	c := math.Abs(powerFactor)
	s := math.Sqrt(max(0, float64((1-c)*(1+c))))
	if powerFactor < 0 {
		s = -s
	}
	along := float64(currentA * (float64(z.ResistanceOhm*c) + float64(z.ReactanceOhm*s)))
	across := currentA * (float64(z.ReactanceOhm*c) - float64(z.ResistanceOhm*s))
	under := float64(sourceV*sourceV) - float64(across*across)
	if under < 0 {
		return 0
	}
	return max(0, math.Sqrt(under)-along)
}

// VoltageUnderPhasor is the same where the current's angle is fixed to the SOURCE, as a current
// source in a circuit simulator has it: active [A] in phase with Vs, reactive [A] a quarter period
// behind it:
//
//	V = |Vs - (activeA - j reactiveA) (R + jX)|
//
// Check value GV-12 has its unity power factor there. Source: phasor arithmetic.
func VoltageUnderPhasor(sourceV float64, z Impedance, activeA, reactiveA float64) float64 {
	re := sourceV - (float64(activeA*z.ResistanceOhm) + float64(reactiveA*z.ReactanceOhm))
	im := float64(activeA*z.ReactanceOhm) - float64(reactiveA*z.ResistanceOhm)
	return math.Sqrt(float64(re*re) + float64(im*im))
}

package physics

import "math"

// VoltageAtInlet returns the voltage at the end of a source impedance [V], with the
// source at sourceV [V] and a load of p [W] and q [var] per phase, import positive:
//
//	b   = Vs^2/2 - (P R + Q X)
//	V^2 = b + sqrt(b^2 - |Z|^2 (P^2 + Q^2))
//
// It returns 0 where the load is more than the source can deliver. Exact for one phase with the
// return in R and X; check values GV-01 to GV-11. Source: the two-node load flow in
// closed form, common practice.
func VoltageAtInlet(sourceV, resistanceOhm, reactanceOhm, p, q float64) float64 {
	b := float64(sourceV*sourceV)/2 - (float64(p*resistanceOhm) + float64(q*reactanceOhm))
	z2 := float64(resistanceOhm*resistanceOhm) + float64(reactanceOhm*reactanceOhm)
	s2 := float64(p*p) + float64(q*q)
	under := float64(b*b) - float64(z2*s2)
	if under < 0 || b <= 0 {
		return 0
	}
	return math.Sqrt(b + math.Sqrt(under))
}

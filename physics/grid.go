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
	b := float64(float64(sourceV*sourceV)/2) - (float64(p*resistanceOhm) + float64(q*reactanceOhm))
	z2 := float64(resistanceOhm*resistanceOhm) + float64(reactanceOhm*reactanceOhm)
	s2 := float64(p*p) + float64(q*q)
	under := float64(b*b) - float64(z2*s2)
	if under < 0 || b <= 0 {
		return 0
	}
	return math.Sqrt(b + math.Sqrt(under))
}

// VoltagesWithNeutral returns the phase-to-neutral voltages at the inlet [V], and the neutral's voltage against the
// source's star point (real and imaginary part [V]), of a three-phase supply with impedances z per phase and zn in the neutral.
// sourceV are the open-circuit phase voltages [V], 120 deg apart; w and q are what is drawn per phase [W] and [var], import
// and absorbing positive; was is the neutral's voltage to start from.
//
//	I_k = conj(S_k / U_k),  U_k = E_k - z I_k - V_n,  V_n = zn (I_1 + I_2 + I_3)
//
// It iterates on the voltages U_k. Each round shrinks the error by about the relative drop, so that eight rounds leave less than a
// microvolt at a drop of a tenth. Where the source cannot deliver so much the result means nothing. Source:
// Kirchhoff's laws; common practice. With equal loads it equals VoltageAtInlet with z alone, and with one
// phase loaded, VoltageAtInlet with z + zn (tested).
func VoltagesWithNeutral(sourceV [3]float64, z, zn Impedance, w, q [3]float64, was [2]float64) (volts [3]float64, neutral [2]float64) {
	return voltagesWithNeutral(sourceV, z, zn, w, q, was, 8)
}

func voltagesWithNeutral(sourceV [3]float64, z, zn Impedance, w, q [3]float64, was [2]float64, rounds int) (volts [3]float64, neutral [2]float64) {
	const half, sin120 = 0.5, 0.86602540378443864676
	turn := [3][2]float64{{1, 0}, {-half, -sin120}, {-half, sin120}}
	var re, im [3]float64
	for k := range re {
		re[k], im[k] = float64(sourceV[k]*turn[k][0])-was[0], float64(sourceV[k]*turn[k][1])-was[1]
	}
	neutral = was
	for range rounds {
		var ire, iim, sumRe, sumIm = [3]float64{}, [3]float64{}, 0.0, 0.0
		for k := range re {
			// I = conj(S) / conj(U) = (P - jQ) U / |U|^2.
			u2 := float64(re[k]*re[k]) + float64(im[k]*im[k])
			if u2 == 0 {
				continue
			}
			ire[k] = (float64(w[k]*re[k]) + float64(q[k]*im[k])) / u2
			iim[k] = (float64(w[k]*im[k]) - float64(q[k]*re[k])) / u2
			sumRe += ire[k]
			sumIm += iim[k]
		}
		neutral[0] = float64(zn.ResistanceOhm*sumRe) - float64(zn.ReactanceOhm*sumIm)
		neutral[1] = float64(zn.ResistanceOhm*sumIm) + float64(zn.ReactanceOhm*sumRe)
		for k := range re {
			re[k] = float64(sourceV[k]*turn[k][0]) - (float64(z.ResistanceOhm*ire[k]) - float64(z.ReactanceOhm*iim[k])) - neutral[0]
			im[k] = float64(sourceV[k]*turn[k][1]) - (float64(z.ResistanceOhm*iim[k]) + float64(z.ReactanceOhm*ire[k])) - neutral[1]
		}
	}
	for k := range re {
		volts[k] = apparent(re[k], im[k])
	}
	return volts, neutral
}

// apparent is the length of two quantities at right angles, such as active and reactive power.
func apparent(a, b float64) float64 { return math.Sqrt(float64(a*a) + float64(b*b)) }

func (s *Supply) impedance() Impedance { return Impedance{s.ResistanceOhm, s.ReactanceOhm} }
func (s *Supply) neutral() Impedance   { return Impedance{s.NeutralOhm, s.NeutralXOhm} }

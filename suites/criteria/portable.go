package criteria

import "math"

// The logarithm and exponential of package math are assembly on some processors
// and need not agree to the last digit; these do, since they add and multiply
// alone.

// logarithm is ln x for x > 0, from ln(m 2^e) = e ln 2 + 2 artanh((m-1)/(m+1)).
func logarithm(x float64) float64 {
	m, e := math.Frexp(x)
	z := (m - 1) / (m + 1)
	square, power, sum := z*z, z, 0.0
	for k := 1.0; k < 60; k += 2 {
		sum += power / k
		power = float64(power * square)
	}
	return float64(float64(e)*math.Ln2) + float64(2*sum)
}

// decay is e^-x for x >= 0, from the series at x / 2^k and k squarings.
func decay(x float64) float64 {
	halvings := 0
	for ; x > 0.5 && halvings < 1100; halvings++ {
		x /= 2
	}
	term, sum := 1.0, 1.0
	for k := 1.0; k < 20; k++ {
		term = float64(term * (-x / k))
		sum += term
	}
	for range halvings {
		sum *= sum
	}
	return sum
}

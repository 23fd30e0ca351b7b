package physics

import "math"

// The limits below say how large the gain of an integrating loop may be before it
// oscillates. They are of the ideal loop: no deadband, ramp limit, rating or
// noise; a loop under the limit settles, one over it grows until something bounds it.

// ContinuousGainLimit is the largest integral gain k [1/s] of the loop
//
//	G(s) = k e^(-s L) / (s (1 + s tau))
//
// with a lag tau = lagS >= 0 [s] and a dead time L = delayS > 0 [s]. At the limit the phase is
// -180 degrees where the gain is 1: w L + atan(w tau) = pi/2, k = w sqrt(1 + (w tau)^2). Without lag
// this is k L = pi/2. Source: Nyquist's criterion; check values ST-01 and ST-21.
func ContinuousGainLimit(lagS, delayS float64) float64 {
	if lagS == 0 {
		return math.Pi / 2 / delayS
	}
	w := bisect(0, math.Pi/2/delayS, func(w float64) bool {
		return float64(w*delayS)+atan(w*lagS) < math.Pi/2
	})
	return w * math.Sqrt(1+float64(w*lagS*w*lagS))
}

// ContinuousNoOvershootGain is the largest gain k [1/s] with which y'(t) = -k y(t - L), L = delayS > 0
// [s], returns to rest without passing it: k L = 1/e, the double root s L = -1. Check value ST-02.
func ContinuousNoOvershootGain(delayS float64) float64 { return exp(-1) / delayS }

// ContinuousDelayRoot is the dominant root s L = re + j im, im >= 0, of s L = -kL e^(-s L), which is
// the principal branch of Lambert's W(-kL); kl = k L > 0 [1].
//
// Up to 1/e the root is real: s = -x with x e^(-x) = kL, 0 < x <= 1. Above, dividing the imaginary
// by the real part gives re = -im cot(im), and kL = im e^re / sin(im) grows with im
// from 1/e at 0 without bound at pi. Check value ST-03.
func ContinuousDelayRoot(kl float64) (re, im float64) {
	if kl <= exp(-1) {
		return -bisect(0, 1, func(x float64) bool { return float64(x*exp(-x)) < kl }), 0
	}
	growth := func(b float64) float64 { s, c := sincos(b); return -b * c / s }
	im = bisect(0, math.Pi, func(b float64) bool {
		s, _ := sincos(b)
		return b*exp(growth(b))/s < kl
	})
	return growth(im), im
}

// DampingRatio is that of a root re + j im in the s plane: -re / |s| [1]; negative for one that grows.
// Check value ST-04.
func DampingRatio(re, im float64) float64 {
	return -re / math.Sqrt(float64(re*re)+float64(im*im))
}

// SampledDelayLimit is the largest gain per sample g of y[n+1] = y[n] - g y[n-d], d >= 0:
//
//	2 sin(pi / (2 (2d + 1)))
//
// Source: S. A. Levin, R. M. May, A note on difference-delay equations, Theor. Popul. Biol. 9, 1976
// (the citation from memory); check values ST-05 and ST-06. Loops of equal period and delay that
// sample in phase share it: the sum of their gains counts (ST-13).
func SampledDelayLimit(d int) float64 {
	s, _ := sincos(math.Pi / float64(2*(2*d+1)))
	return 2 * s
}

// SampledMarginalPeriod is the period of the oscillation at SampledDelayLimit: 2 (2d + 1) samples.
// Check value ST-07.
func SampledMarginalPeriod(d int) int { return 2 * (2*d + 1) }

// SampledNoOvershootGain is the largest gain per sample that brings y[n+1] = y[n] - g y[n-d] to rest
// without passing it: d^d / (d+1)^(d+1), the double root z = d/(d+1). Check value ST-08.
func SampledNoOvershootGain(d int) float64 {
	g := 1 / float64(d+1)
	for range d {
		g *= float64(d) / float64(d+1)
	}
	return g
}

// SampledRecovery runs y[n+1] = y[n] - g y[n-d] from y[-d..0] = 1, the meter already showing a unit
// disturbance. It returns the first sample from which |y| stays below band for the rest of most samples, and
// the deepest undershoot (0 or positive); settled is -1 if y ends outside. Check values ST-09 to ST-11.
func SampledRecovery(d int, g, band float64, most int) (settled int, undershoot float64) {
	ring := make([]float64, d+1) // y[n] stands at n mod (d+1), in the place of y[n-1-d]
	for i := range ring {
		ring[i] = 1
	}
	y := 1.0
	for n := 1; n <= most; n++ {
		old := &ring[n%(d+1)] // y[n-1-d]
		y -= float64(g * *old)
		*old = y
		if !(math.Abs(y) < 1e100) { // long out of control: go no further than float64 does
			return -1, undershoot
		}
		undershoot = max(undershoot, -y)
		if math.Abs(y) >= band {
			settled = n
		}
	}
	if math.Abs(y) >= band {
		return -1, undershoot
	}
	return settled + 1, undershoot
}

// SampledLoop is an integrator of gain g per sample that acts on what a meter tells of
// its own output. Its characteristic polynomial is
//
//	(z - 1) z^d F_den A_den + g F_num A_num
//
// with F = (z^(M-1) + ... + 1) / (M z^(M-1)) for a mean over M samples, F = alpha z / (z - (1 -
// alpha)) for an exponential mean, and A = (1 - a) / (z - a), a = e^(-Ts/tau), for a first-order
// actuator that is held exactly over a sample. An actuator moves after the sample at which it is
// told, so that even a fast one (tau near 0) adds one sample of delay to Delay. The parts combine.
// Check values ST-12 and ST-16 to ST-20.
type SampledLoop struct {
	Delay     int     // d >= 0 [samples]
	MeanOver  int     // M [samples]; 0 and 1 mean none
	EMAAlpha  float64 // alpha in (0, 1]; 0 means none
	ActuatorS float64 // tau [s]; 0 means none
	PeriodS   float64 // Ts [s]; only of use with an actuator
}

// Polynomial gives the characteristic polynomial at gain g, the constant first.
func (l SampledLoop) Polynomial(g float64) []float64 {
	den, num := []float64{-1, 1}, []float64{g}
	for range l.Delay {
		den = multiply(den, 0, 1)
	}
	if l.MeanOver > 1 {
		mean := make([]float64, l.MeanOver)
		for i := range mean {
			mean[i] = g / float64(l.MeanOver)
			if i > 0 {
				den = multiply(den, 0, 1)
			}
		}
		num = mean
	}
	if l.EMAAlpha > 0 {
		den = multiply(den, l.EMAAlpha-1, 1)
		num = multiply(num, 0, l.EMAAlpha)
	}
	if l.ActuatorS > 0 {
		a := exp(-l.PeriodS / l.ActuatorS)
		den = multiply(den, -a, 1)
		for i := range num {
			num[i] *= 1 - a
		}
	}
	for i, v := range num {
		den[i] += v
	}
	return den
}

// multiply multiplies a polynomial by c0 + c1 z, the constant first.
func multiply(p []float64, c0, c1 float64) []float64 {
	out := make([]float64, len(p)+1)
	for i, v := range p {
		out[i] += float64(v * c0)
		out[i+1] += float64(v * c1)
	}
	return out
}

// StabilityLimit is the gain per sample under which the loop settles: the first from 0 upwards
// with a root on the unit circle.
func (l SampledLoop) StabilityLimit() float64 {
	stable := func(g float64) bool { return rootsWithin(l.Polynomial(g), 1) }
	hi := 1e-3
	for stable(hi) {
		hi *= 1.25
	}
	return bisect(0, hi, func(g float64) bool { return g == 0 || stable(g) })
}

// SpectralRadius is the magnitude of the loop's largest root at gain g: by what factor
// its slowest part shrinks or grows per sample.
func (l SampledLoop) SpectralRadius(g float64) float64 { return SpectralRadius(l.Polynomial(g)) }

// SpectralRadius is the largest magnitude among the roots of a real polynomial, the constant first, its
// leading coefficient not 0. It halves the interval of radii that the Schur-Cohn test tells apart.
func SpectralRadius(p []float64) float64 {
	lead, most := math.Abs(p[len(p)-1]), 0.0
	for _, v := range p[:len(p)-1] {
		most = max(most, math.Abs(v)/lead)
	}
	// All roots lie within 1 + most (Cauchy's bound).
	return bisect(0, 2+most, func(r float64) bool { return r == 0 || !rootsWithin(p, r) })
}

// rootsWithin is the Schur-Cohn test: whether all roots of p, the constant first, are smaller than
// r. Each round checks |a0| < |an| and goes on with (an p(z) - a0 z^n p(1/z)) / z.
func rootsWithin(p []float64, r float64) bool {
	a := make([]float64, len(p))
	scale := 1.0
	for i, v := range p {
		a[i] = v * scale
		scale *= r
	}
	for n := len(a) - 1; n > 0; n-- {
		ratio := a[0] / a[n]
		if !(math.Abs(ratio) < 1) {
			return false
		}
		for i, j := 0, n; i <= j; i, j = i+1, j-1 {
			x, y := a[i], a[j]
			a[i], a[j] = x-float64(ratio*y), y-float64(ratio*x)
		}
		a = a[1:]
	}
	return true
}

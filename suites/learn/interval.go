package learn

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// covariance is that of the fitted parameters: the inverse curvature of the cost around what the innovations really
// scatter, lagged products included (the sandwich of W. K. Newey and K. D. West, Econometrica 55, 1987; from memory), so that
// what the noise model misses widens the intervals.
func (f *fitting) covariance(d Device) *mat.SymDense {
	f.base = d
	v := d.vector()
	r := f.residuals(d, nil)
	f.weigh(r)
	e := f.innovations(r, nil)
	j := f.jacobian(v[:], r)
	h, _ := f.normal(d, &j, e, false)
	const lags = 4
	s2 := f.sigmaW * f.sigmaW
	score := func(p, i int) float64 {
		x := f.weights[i] * j[p][i] * e[i] / s2
		if math.IsNaN(x) {
			return 0
		}
		return x
	}
	s := mat.NewSymDense(parameters, nil)
	for a := range parameters {
		for b := a; b < parameters; b++ {
			sum := 0.0
			for i := range e {
				sum += score(a, i) * score(b, i)
				for l := 1; l <= lags && i+l < len(e); l++ {
					k := 1 - float64(l)/(lags+1)
					sum += k * (score(a, i)*score(b, i+l) + score(a, i+l)*score(b, i))
				}
			}
			if a == b {
				sum += 1 / (priors[a].spread * priors[a].spread)
			}
			s.SetSym(a, b, sum)
		}
	}
	var chol mat.Cholesky
	cov := mat.NewSymDense(parameters, nil)
	if !chol.Factorize(h) {
		for p := range parameters {
			cov.SetSym(p, p, priors[p].spread*priors[p].spread)
		}
		return cov
	}
	var inv, full mat.Dense
	var hi mat.SymDense
	if err := chol.InverseTo(&hi); err != nil {
		return cov
	}
	inv.Mul(&hi, s)
	full.Mul(&inv, &hi)
	for a := range parameters {
		for b := a; b < parameters; b++ {
			// The model's own curvature is the least that can be claimed.
			cov.SetSym(a, b, full.At(a, b))
		}
	}
	for a := range parameters {
		if m := hi.At(a, a); cov.At(a, a) < m {
			k := math.Sqrt(m / cov.At(a, a))
			for b := range parameters {
				if b == a {
					cov.SetSym(a, a, m)
				} else {
					cov.SetSym(a, b, cov.At(a, b)*k)
				}
			}
		}
	}
	return cov
}

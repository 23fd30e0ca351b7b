package learn

import "math"

// whiten replaces residuals, a level that walks plus white noise, by their innovations:
//
//	e[n] = r[n] - s[n-1],  s[n] = s[n-1] + keep e[n]
//
// the steady-state Kalman filter of the local-level model (A. C. Harvey, Forecasting, structural time series models
// and the Kalman filter, 1989, section 4.1; from memory). keep is its gain [1]: near 0 for a level that stands, 1 for one that
// walks far between samples. Being linear, it whitens derivatives as well. Missing samples stay missing, and the level
// begins with the first.
func whiten(r []float64, keep float64, out []float64) []float64 {
	out = out[:0]
	level, known := 0.0, false
	for _, v := range r {
		switch {
		case math.IsNaN(v):
			out = append(out, math.NaN())
		case !known:
			level, known = v, true
			out = append(out, 0)
		default:
			e := v - level
			level += keep * e
			out = append(out, e)
		}
	}
	return out
}

// keeps are the gains that are tried.
var keeps = []float64{0.02, 0.07, 0.2, 0.4, 0.7, 1}

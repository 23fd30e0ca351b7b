package learn

import "math"

// Record is a log on an even grid of time, load convention: what flows into a device, and into the site, is positive.
type Record struct {
	StepS float64
	GridW []float64 // NaN where missing, as in all columns
	Units []Unit
}

// Unit is what was logged of one inverter.
type Unit struct {
	Name     string
	PowerW   []float64
	SOC      []float64 // [1]; nil where it was not logged
	CommandW []float64 // what it was told; nil where nobody logged it
}

// restW is the exogenous net load: what the meters leave over when the inverters are taken off [W].
func (r *Record) restW() []float64 {
	rest := make([]float64, len(r.GridW))
	for n, g := range r.GridW {
		rest[n] = g
		for i := range r.Units {
			rest[n] -= r.Units[i].PowerW[n]
		}
	}
	return rest
}

// bridge fills short gaps of a series in a straight line; it says whether all is known then.
func bridge(v []float64, most int) ([]float64, bool) {
	out := append([]float64(nil), v...)
	last := -1
	whole := true
	for n := 0; n <= len(out); n++ {
		if n < len(out) && math.IsNaN(out[n]) {
			continue
		}
		if gap := n - last - 1; gap > 0 {
			if gap > most || last < 0 || n == len(out) {
				whole = false
			} else {
				for m := last + 1; m < n; m++ {
					out[m] = out[last] + (out[n]-out[last])*float64(m-last)/float64(n-last)
				}
			}
		}
		last = n
	}
	return out, whole
}

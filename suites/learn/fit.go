package learn

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/optimize"
)

// stretch is a piece of the log without a gap: the flow that a device's meter saw, and what the device did.
type stretch struct {
	stepS  float64
	flow   flow
	powerW []float64 // at each sample; NaN where missing
}

// fitting is one device's fit under way.
type fitting struct {
	stretches []stretch
	base      Device
	keep      float64   // of the whitening
	sigmaW    float64   // spread of the innovations [W]
	weights   []float64 // of each innovation [1]
	fine      []float64 // scratch
	white     []float64
}

// residuals are log less model, stretch after stretch [W].
func (f *fitting) residuals(d Device, out []float64) []float64 {
	out = out[:0]
	for i := range f.stretches {
		s := &f.stretches[i]
		out = f.residual(d, s, out)
	}
	return out
}

func (f *fitting) residual(d Device, s *stretch, out []float64) []float64 {
	spanS := float64(len(s.powerW)-1)*s.stepS + max(-d.PhaseS, 0)
	f.fine, _ = d.respond(s.flow, firstKnown(s.powerW), spanS, s.stepS, f.fine)
	model := series{tick(s.stepS), f.fine}
	for n, w := range s.powerW {
		out = append(out, w-model.at(float64(n)*s.stepS-d.PhaseS-d.DeadS))
	}
	return out
}

// askedW is the most that a device's loop asks of its output in the model [W], either way.
func (f *fitting) askedW(d Device) float64 {
	most := 0.0
	for i := range f.stretches {
		s := &f.stretches[i]
		var askedW float64
		f.fine, askedW = d.respond(s.flow, firstKnown(s.powerW), float64(len(s.powerW)-1)*s.stepS, s.stepS, f.fine)
		most = max(most, askedW)
	}
	return most
}

func firstKnown(v []float64) float64 {
	for _, w := range v {
		if !math.IsNaN(w) {
			return w
		}
	}
	return 0
}

// innovations whitens residuals, each stretch by itself.
func (f *fitting) innovations(r, out []float64) []float64 {
	out = out[:0]
	from := 0
	for i := range f.stretches {
		n := len(f.stretches[i].powerW)
		f.white = whiten(r[from:from+n], f.keep, f.white)
		out = append(out, f.white...)
		from += n
	}
	return out
}

// cost is half the sum of squares that is minimised, innovations and assumptions together.
func (f *fitting) cost(d Device, e []float64) float64 {
	sum := 0.0
	for i, v := range e {
		if !math.IsNaN(v) {
			sum += f.weights[i] * v * v
		}
	}
	return sum/(2*f.sigmaW*f.sigmaW) + f.assumed(d)
}

func (f *fitting) assumed(d Device) float64 {
	sum := 0.0
	for i, v := range d.vector() {
		z := (v - priors[i].centre) / priors[i].spread
		sum += z * z / 2
	}
	return sum
}

// weigh sets the noise model to what the residuals show: the filter's gain that leaves the least, the spread, and
// weights that tell an outlier from noise (Cauchy's).
func (f *fitting) weigh(r []float64) {
	best := math.Inf(1)
	var chosen float64
	var e []float64
	for _, keep := range keeps {
		f.keep = keep
		e = f.innovations(r, e)
		if s := spread(e); s < best {
			best, chosen = s, keep
		}
	}
	f.keep = chosen
	e = f.innovations(r, e)
	f.sigmaW = max(spread(e), 0.2)
	f.weights = f.weights[:0]
	for _, v := range e {
		z := v / (3 * f.sigmaW)
		f.weights = append(f.weights, 1/(1+z*z))
	}
}

// spread is a standard deviation that outliers hardly shape: from the mean size [1.2533 = sqrt(pi/2)], taken again without what
// lies beyond four times the first.
func spread(e []float64) float64 {
	limit := math.Inf(1)
	for range 2 {
		sum, n := 0.0, 0
		for _, v := range e {
			if v = math.Abs(v); v <= limit { // a NaN is not
				sum += v
				n++
			}
		}
		if n == 0 {
			return 1
		}
		mean := 1.2533 * sum / float64(n)
		if !math.IsInf(limit, 1) {
			return mean
		}
		limit = 4 * mean
	}
	return limit
}

// jacobian is the innovations' derivative by each parameter.
func (f *fitting) jacobian(x []float64, r []float64) [parameters][]float64 {
	var j [parameters][]float64
	for p := range j {
		moved := slices.Clone(x)
		moved[p] += steps[p]
		h := steps[p]
		s := f.residuals(f.base.with(moved), nil)
		for i := range s {
			s[i] = (s[i] - r[i]) / h
		}
		j[p] = f.innovations(s, nil)
	}
	return j
}

// normal is the Gauss-Newton matrix and gradient of the cost; without the assumptions where bare.
func (f *fitting) normal(d Device, j *[parameters][]float64, e []float64, bare bool) (*mat.SymDense, []float64) {
	h := mat.NewSymDense(parameters, nil)
	g := make([]float64, parameters)
	s2 := f.sigmaW * f.sigmaW
	v := d.vector()
	for a := range parameters {
		for b := a; b < parameters; b++ {
			sum := 0.0
			for i, w := range f.weights {
				if x := j[a][i] * j[b][i]; !math.IsNaN(x) {
					sum += w * x
				}
			}
			h.SetSym(a, b, sum/s2)
		}
		sum := 0.0
		for i, w := range f.weights {
			if x := j[a][i] * e[i]; !math.IsNaN(x) {
				sum += w * x
			}
		}
		g[a] = sum / s2
		if !bare {
			q := priors[a]
			h.SetSym(a, a, h.At(a, a)+1/(q.spread*q.spread))
			g[a] += (v[a] - q.centre) / (q.spread * q.spread)
		}
	}
	return h, g
}

// polish minimises the cost from a device on, with the noise model as it stands.
func (f *fitting) polish(d Device, iterations int) (Device, float64) {
	f.base = d
	start := d.vector()
	var r, e []float64
	type point struct {
		x []float64
		h *mat.SymDense
		g []float64
	}
	var last point
	derive := func(x []float64) {
		if slices.Equal(last.x, x) {
			return
		}
		r = f.residuals(f.base.with(x), r)
		e = f.innovations(r, e)
		j := f.jacobian(x, r)
		h, g := f.normal(f.base.with(x), &j, e, false)
		last = point{slices.Clone(x), h, g}
	}
	problem := optimize.Problem{
		Func: func(x []float64) float64 {
			r = f.residuals(f.base.with(x), r)
			e = f.innovations(r, e)
			return f.cost(f.base.with(x), e)
		},
		Grad: func(g, x []float64) { derive(x); copy(g, last.g) },
		Hess: func(h *mat.SymDense, x []float64) { derive(x); h.CopySym(last.h) },
	}
	settings := &optimize.Settings{
		MajorIterations:   iterations,
		GradientThreshold: 1e-3,
		Converger:         &optimize.FunctionConverge{Absolute: 0.05, Relative: 1e-6, Iterations: 2},
		FuncEvaluations:   12 * iterations,
	}
	// A step that finds nothing better ends the search; what was found so far stands.
	result, err := optimize.Minimize(problem, start[:], settings, &optimize.Newton{Linesearcher: &optimize.Backtracking{}})
	if result == nil {
		_ = err
		return d, problem.Func(start[:])
	}
	return f.base.with(result.X), result.F
}

package fieldlog

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// moves are a column's changes from each row to the next; a missing value keeps the last one. A counter that begins anew makes none.
func moves(v []float64) []float64 {
	out := make([]float64, len(v))
	last := math.NaN()
	for i, x := range v {
		if math.IsNaN(x) {
			x = last
		}
		if d := x - last; !math.IsNaN(d) {
			out[i] = d
		}
		last = x
	}
	size := 0.0
	for _, d := range out {
		size += math.Abs(d)
	}
	for i, d := range out {
		if math.Abs(d)*float64(len(out)) > 50*size {
			out[i] = 0
		}
	}
	return out
}

// changes are those of a signal on its even axis, 0 where one of the two values is missing.
func changes(v []float64) []float64 {
	out := make([]float64, len(v))
	for i := 1; i < len(v); i++ {
		if d := v[i] - v[i-1]; !math.IsNaN(d) {
			out[i] = d
		}
	}
	return out
}

// regression explains one series by others.
type regression struct {
	factors []float64
	errors  []float64 // their standard errors
	share   float64   // of the square that is explained [1]
}

// regress explains y by columns x without a constant, twice: the second time without the moments that the first left far off, such
// as those at which an appliance was switched that no column tells of.
func regress(y []float64, x [][]float64) regression {
	r := leastSquares(y, x)
	left := make([]float64, len(y))
	sizes := make([]float64, len(y))
	for i := range y {
		left[i] = y[i]
		for j := range x {
			left[i] -= r.factors[j] * x[j][i]
		}
		sizes[i] = math.Abs(left[i])
	}
	limit := 6 * median(sizes)
	if limit == 0 {
		return r
	}
	calmY := make([]float64, len(y))
	calmX := make([][]float64, len(x))
	for j := range x {
		calmX[j] = make([]float64, len(y))
	}
	for i := range y {
		if sizes[i] <= limit {
			calmY[i] = y[i]
			for j := range x {
				calmX[j][i] = x[j][i]
			}
		}
	}
	return leastSquares(calmY, calmX)
}

// leastSquares has a ridge of 1e-9 of the diagonal against columns that are alike.
func leastSquares(y []float64, x [][]float64) regression {
	n := len(x)
	r := regression{factors: make([]float64, n), errors: make([]float64, n)}
	a, b := mat.NewSymDense(max(n, 1), nil), mat.NewVecDense(max(n, 1), nil)
	for i := range n {
		for j := i; j < n; j++ {
			a.SetSym(i, j, dot(x[i], x[j]))
		}
		a.SetSym(i, i, a.At(i, i)*(1+1e-9)+1e-9)
		b.SetVec(i, dot(x[i], y))
	}
	yy := dot(y, y)
	var chol mat.Cholesky
	var inverse mat.SymDense
	if n == 0 || yy == 0 || !chol.Factorize(a) || chol.InverseTo(&inverse) != nil {
		return r
	}
	left := yy
	for i := range n {
		for j := range n {
			r.factors[i] += inverse.At(i, j) * b.AtVec(j)
		}
		left -= r.factors[i] * b.AtVec(i)
	}
	r.share = 1 - left/yy
	for i := range n {
		r.errors[i] = math.Sqrt(max(left, 0) / float64(max(len(y)-n, 1)) * inverse.At(i, i))
	}
	return r
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for i := range a {
		if x := a[i] * b[i]; !math.IsNaN(x) {
			sum += x
		}
	}
	return sum
}

// slope is by what factor y goes with x where both move: their product over x's square.
func slope(y, x []float64) float64 {
	if s := dot(x, x); s > 0 {
		return dot(x, y) / s
	}
	return 0
}

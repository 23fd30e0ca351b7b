package search

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// evolution is the covariance matrix adaptation evolution strategy: it draws a generation, is told the margins, and moves and
// reshapes the distribution towards the better half.
//
// Source of equations and constants: N. Hansen, The CMA evolution strategy: a tutorial, arXiv:1604.00772, appendix A, with
// positive weights alone. (gonum has one too, optimize.CmaEsChol; but its samples are drawn from a covariance that its step
// size never scales, and it comes to rest slowly.)
type evolution struct {
	dim, population        int
	weights                []float64 // of the better half, best first; their sum is 1
	effective              float64   // variance-effective selection mass
	cc, cs, c1, cmu, damps float64
	expected               float64 // length of a standard normal vector

	mean       []float64
	sigma      float64
	covariance *mat.SymDense
	axes       mat.Dense // eigenvectors
	lengths    []float64 // square roots of the eigenvalues
	pc, ps     []float64 // evolution paths
	generation int

	chance *rand.Rand
	steps  [][]float64 // of the generation asked for: (x - mean)/sigma
}

// newEvolution begins around a point with a spread; a population of 0 is the tutorial's choice.
func newEvolution(mean []float64, spread float64, population int, chance *rand.Rand) *evolution {
	n := float64(len(mean))
	if population == 0 {
		population = 4 + int(3*math.Log(n))
	}
	e := &evolution{dim: len(mean), population: population, mean: slices.Clone(mean), sigma: spread, chance: chance}
	sum, squares := 0.0, 0.0
	for i := range population / 2 {
		w := math.Log(float64(population+1)/2) - math.Log(float64(i+1))
		e.weights = append(e.weights, w)
		sum += w
	}
	for i := range e.weights {
		e.weights[i] /= sum
		squares += e.weights[i] * e.weights[i]
	}
	e.effective = 1 / squares
	e.cs = (e.effective + 2) / (n + e.effective + 5)
	e.damps = 1 + 2*max(0, math.Sqrt((e.effective-1)/(n+1))-1) + e.cs
	e.cc = (4 + e.effective/n) / (n + 4 + 2*e.effective/n)
	e.c1 = 2 / ((n+1.3)*(n+1.3) + e.effective)
	e.cmu = min(1-e.c1, 2*(e.effective-2+1/e.effective)/((n+2)*(n+2)+e.effective))
	e.expected = math.Sqrt(n) * (1 - 1/(4*n) + 1/(21*n*n))
	e.pc, e.ps = make([]float64, e.dim), make([]float64, e.dim)
	e.covariance = mat.NewSymDense(e.dim, nil)
	for i := range e.dim {
		e.covariance.SetSym(i, i, 1)
	}
	e.decompose()
	return e
}

// decompose finds the axes of the distribution; false where numbers no longer allow it.
func (e *evolution) decompose() bool {
	var eigen mat.EigenSym
	if !eigen.Factorize(e.covariance, true) {
		return false
	}
	eigen.VectorsTo(&e.axes)
	e.lengths = eigen.Values(e.lengths)
	for i, v := range e.lengths {
		if !(v > 0) {
			return false
		}
		e.lengths[i] = math.Sqrt(v)
	}
	return true
}

// ask draws the next generation. What falls outside the unit cube is moved to its face, and counts as the step that led there: so
// the distribution comes to rest on a face or in a corner where the least margin is there.
func (e *evolution) ask() [][]float64 {
	e.steps = make([][]float64, e.population)
	points := make([][]float64, e.population)
	z := make([]float64, e.dim)
	for i := range points {
		for k := range z {
			z[k] = e.chance.NormFloat64() * e.lengths[k]
		}
		y, x := make([]float64, e.dim), make([]float64, e.dim)
		for k := range y {
			for j := range z {
				y[k] += e.axes.At(k, j) * z[j]
			}
			x[k] = min(max(e.mean[k]+e.sigma*y[k], 0), 1)
			y[k] = (x[k] - e.mean[k]) / e.sigma
		}
		e.steps[i], points[i] = y, x
	}
	return points
}

// tell takes the margins of the generation asked for; false says that the distribution has come to rest.
func (e *evolution) tell(margins []float64) bool {
	order := make([]int, e.population)
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(ranked(margins[a]), ranked(margins[b])) })
	e.generation++

	step := make([]float64, e.dim) // of the mean, in sigma
	for i, w := range e.weights {
		for k, y := range e.steps[order[i]] {
			step[k] += w * y
		}
	}
	for k := range e.mean {
		e.mean[k] += e.sigma * step[k]
	}

	// ps moves by C^(-1/2) step.
	along := make([]float64, e.dim)
	for j := range along {
		for k := range step {
			along[j] += e.axes.At(k, j) * step[k]
		}
		along[j] /= e.lengths[j]
	}
	length := 0.0
	for k := range e.ps {
		white := 0.0
		for j := range along {
			white += e.axes.At(k, j) * along[j]
		}
		e.ps[k] = (1-e.cs)*e.ps[k] + math.Sqrt(e.cs*(2-e.cs)*e.effective)*white
		length += e.ps[k] * e.ps[k]
	}
	length = math.Sqrt(length)
	n := float64(e.dim)
	stalled := 0.0 // 1 while the path is so long that pc must wait
	if length/math.Sqrt(1-math.Pow(1-e.cs, 2*float64(e.generation))) >= (1.4+2/(n+1))*e.expected {
		stalled = 1
	}
	for k := range e.pc {
		e.pc[k] = (1-e.cc)*e.pc[k] + (1-stalled)*math.Sqrt(e.cc*(2-e.cc)*e.effective)*step[k]
	}

	keep := 1 - e.c1 - e.cmu + stalled*e.c1*e.cc*(2-e.cc)
	for i := range e.dim {
		for j := i; j < e.dim; j++ {
			v := keep*e.covariance.At(i, j) + e.c1*e.pc[i]*e.pc[j]
			for r, w := range e.weights {
				y := e.steps[order[r]]
				v += e.cmu * w * y[i] * y[j]
			}
			e.covariance.SetSym(i, j, v)
		}
	}
	e.sigma *= math.Exp(e.cs / e.damps * (length/e.expected - 1))
	return e.decompose() && e.sigma*slices.Max(e.lengths) > leastSpread
}

// leastSpread is so narrow that all points of a distribution are one case.
const leastSpread = 1e-4

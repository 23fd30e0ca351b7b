package sweep

import (
	"fmt"
	"math/bits"
)

// sobolBits is how many binary digits a coordinate has, and so the most points: 2^32.
const sobolBits = 32

// direction is what makes one dimension of a Sobol sequence: the degree and the inner coefficients of a primitive polynomial
// over the field of two elements, and the initial direction numbers.
type direction struct {
	degree, inner uint32
	initial       []uint32
}

// directions are those of the dimensions from the second on: S. Joe, F. Y. Kuo, Constructing Sobol sequences with better
// two-dimensional projections, SIAM Journal on Scientific Computing 30, 2008; the authors' table new-joe-kuo-6.
var directions = []direction{
	{1, 0, []uint32{1}},
	{2, 1, []uint32{1, 3}},
	{3, 1, []uint32{1, 3, 1}},
	{3, 2, []uint32{1, 1, 1}},
	{4, 1, []uint32{1, 1, 3, 3}},
	{4, 4, []uint32{1, 3, 5, 13}},
	{5, 2, []uint32{1, 1, 5, 5, 17}},
	{5, 4, []uint32{1, 1, 5, 5, 5}},
	{5, 7, []uint32{1, 1, 7, 11, 19}},
	{5, 11, []uint32{1, 1, 5, 1, 1}},
	{5, 13, []uint32{1, 1, 1, 3, 11}},
	{5, 14, []uint32{1, 3, 5, 5, 31}},
}

// mostSobol is how many dimensions the table has.
var mostSobol = len(directions) + 1

// sobol returns the first n points of the sequence in the unit cube, in the order of the Gray code (I. A. Antonov,
// V. M. Saleev, An economic method of computing LP-tau sequences, USSR Computational Mathematics and Mathematical Physics 19,
// 1979). The first is the corner at 0.
func sobol(n, dim int) ([][]float64, error) {
	if dim > mostSobol {
		return nil, fmt.Errorf("a Sobol design of %d parameters: the table of direction numbers has %d", dim, mostSobol)
	}
	points := make([][]float64, n)
	for i := range points {
		points[i] = make([]float64, dim)
	}
	for k := range dim {
		steps := [sobolBits]uint32{}
		for j := range steps {
			steps[j] = 1 << (sobolBits - 1 - j)
		}
		if k > 0 {
			steps = directions[k-1].steps()
		}
		x := uint32(0)
		for i := range points {
			if i > 0 {
				x ^= steps[bits.TrailingZeros32(uint32(i))]
			}
			points[i][k] = float64(x) / (1 << sobolBits)
		}
	}
	return points, nil
}

// steps are the direction numbers of a dimension, by the recurrence of its polynomial.
func (d direction) steps() (v [sobolBits]uint32) {
	s := int(d.degree)
	for j := range v {
		if j < s {
			v[j] = d.initial[j] << (sobolBits - 1 - j)
			continue
		}
		v[j] = v[j-s] ^ v[j-s]>>s
		for i := 1; i < s; i++ {
			if d.inner>>(s-1-i)&1 == 1 {
				v[j] ^= v[j-i]
			}
		}
	}
	return v
}

package criteria

import "math"

// spectrum is the discrete Fourier transform of n samples, n a power of two. Its
// factors come from square roots and fenced products, which are the same on every
// processor.
type spectrum struct {
	hann    []float64    // the periodic Hann window
	factors []complex128 // e^(-2 pi i k / n) for k < n / 2
	order   []uint16     // bit reversal
}

func newSpectrum(n int) spectrum {
	f := spectrum{hann: make([]float64, n), factors: make([]complex128, n/2), order: make([]uint16, n)}
	f.factors[0] = 1
	// The half of an angle: cos(a/2) = sqrt((1 + cos a) / 2), from a = pi on; each
	// halving doubles how many factors are known.
	root := complex(-1, 0)
	for span := n / 2; span >= 1; span /= 2 {
		if span < n/2 {
			for k := span; k < n/2; k += 2 * span {
				f.factors[k] = times(f.factors[k-span], root)
			}
		}
		cos := real(root)
		root = complex(math.Sqrt((1+cos)/2), -math.Sqrt((1-cos)/2))
	}
	for i := range n {
		// cos(2 pi i / n), mirrored in the second half.
		cos := 0.0
		if i < n/2 {
			cos = real(f.factors[i])
		} else {
			cos = -real(f.factors[i-n/2])
		}
		f.hann[i] = (1 - cos) / 2
		for bit := 1; bit < n; bit *= 2 {
			f.order[i] *= 2
			if i&bit != 0 {
				f.order[i]++
			}
		}
	}
	return f
}

// times is the complex product, without fused operations.
func times(a, b complex128) complex128 {
	return complex(
		float64(real(a)*real(b))-float64(imag(a)*imag(b)),
		float64(real(a)*imag(b))+float64(imag(a)*real(b)))
}

// transform replaces x by its transform, X[k] = sum of x[n] e^(-2 pi i k n / N).
func (f *spectrum) transform(x []complex128) {
	for i, j := range f.order {
		if i < int(j) {
			x[i], x[j] = x[j], x[i]
		}
	}
	for half := 1; half < len(x); half *= 2 {
		stride := len(x) / (2 * half)
		for start := 0; start < len(x); start += 2 * half {
			for k := range half {
				a, b := x[start+k], times(f.factors[k*stride], x[start+k+half])
				x[start+k], x[start+k+half] = a+b, a-b
			}
		}
	}
}

// powers gives |A[k]|^2 and |B[k]|^2 from the transform of a + i b, a and b real.
func powers(x []complex128, k int) (a, b float64) {
	p, q := x[k], x[(len(x)-k)%len(x)]
	sumR, sumI := real(p)+real(q), imag(p)-imag(q)
	difR, difI := real(p)-real(q), imag(p)+imag(q)
	return (float64(sumR*sumR) + float64(sumI*sumI)) / 4, (float64(difR*difR) + float64(difI*difI)) / 4
}

package criteria

// What tests outside the package compare with known values.
var (
	Logarithm = logarithm
	Decay     = decay
)

// Cycle is what the rainflow counter of wear counted.
type Cycle struct{ Range, Mean, Count float64 }

// CountCycles counts a record and gives the cycles, their sum of range x count,
// and the largest number of turning points that were kept.
func CountCycles(series []float64) (cycles []Cycle, sum float64, kept int) {
	var r rainflow
	r.seen = func(reach, mean, count float64) { cycles = append(cycles, Cycle{reach, mean, count}) }
	for _, x := range series {
		r.add(x)
		kept = max(kept, r.used)
	}
	return cycles, r.ended().sum, kept
}

// Transform is the transform of a record whose length is a power of two.
func Transform(x []float64) []complex128 {
	f := newSpectrum(len(x))
	z := make([]complex128, len(x))
	for i, v := range x {
		z[i] = complex(v, 0)
	}
	f.transform(z)
	return z
}

// Hann is the window of the spectra.
func Hann(n int) []float64 { return newSpectrum(n).hann }

// Powers gives the powers of two real records at bin k from one transform.
func Powers(a, b []float64, k int) (float64, float64) {
	f := newSpectrum(len(a))
	z := make([]complex128, len(a))
	for i := range a {
		z[i] = complex(a[i], b[i])
	}
	f.transform(z)
	return powers(z, k)
}

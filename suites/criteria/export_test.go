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

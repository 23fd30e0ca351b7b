package compare

import "math"

// signTest is the two-sided p-value of so many pairs having changed for the better and for the worse.
func signTest(better, worse int) float64 {
	n, low := better+worse, 0.0
	for k := range min(better, worse) + 1 {
		low += math.Exp(logChoose(n, k) - float64(n)*math.Ln2)
	}
	return min(1, 2*low)
}

// fisher is the two-sided p-value of two shares of failures being the same: all tables of the same sums that are no
// more likely than this one.
func fisher(failedA, ofA, failedB, ofB int) float64 {
	failed := failedA + failedB
	chance := func(a int) float64 {
		return math.Exp(logChoose(ofA, a) + logChoose(ofB, failed-a) - logChoose(ofA+ofB, failed))
	}
	seen, p := chance(failedA), 0.0
	for a := max(0, failed-ofB); a <= min(failed, ofA); a++ {
		if c := chance(a); c <= seen*(1+1e-9) {
			p += c
		}
	}
	return min(1, p)
}

// logChoose is the logarithm of the number of ways to choose k of n.
func logChoose(n, k int) float64 {
	a, _ := math.Lgamma(float64(n + 1))
	b, _ := math.Lgamma(float64(k + 1))
	c, _ := math.Lgamma(float64(n - k + 1))
	return a - b - c
}

// leastP is the least p-value that the test of so many pairs, or of so many runs on each side, can have.
func leastP(pairs, a, b int) float64 {
	if pairs > 0 {
		return math.Exp2(float64(1 - pairs))
	}
	return 2 * math.Exp(-logChoose(a+b, a))
}

// pairsFor is how many pairs a test at that level needs at the least.
func pairsFor(level float64) int {
	return int(math.Ceil(1 - math.Log2(level)))
}

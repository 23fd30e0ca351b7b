package compare

import (
	"cmp"
	"math"
	"slices"
)

// Up to these sizes the tests are exact; beyond, the normal distribution stands in, with ties accounted for.
const (
	exactPairs = 100
	exactRuns  = 40
)

// signedRank is the two-sided p-value of the differences of pairs having no direction.
func signedRank(differences []float64) float64 {
	d := slices.DeleteFunc(slices.Clone(differences), func(x float64) bool { return x == 0 })
	if len(d) == 0 {
		return 1
	}
	sizes := make([]float64, len(d))
	for i, x := range d {
		sizes[i] = math.Abs(x)
	}
	ranks := doubledRanks(sizes)
	up := 0
	for i, r := range ranks {
		if d[i] > 0 {
			up += r
		}
	}
	if len(d) > exactPairs {
		return pairsNormal(ranks, up)
	}
	return pairsExact(ranks, up)
}

// pairsExact finds the tails of the doubled rank sum by adding one pair after another.
func pairsExact(ranks []int, up int) float64 {
	chance := []float64{1} // of each sum
	for _, r := range ranks {
		next := make([]float64, len(chance)+r)
		for s, p := range chance {
			next[s] += p / 2
			next[s+r] += p / 2
		}
		chance = next
	}
	return tails(chance, up)
}

func pairsNormal(ranks []int, up int) float64 {
	mean, variance := 0.0, 0.0
	for _, r := range ranks {
		mean += float64(r) / 2
		variance += float64(r*r) / 4
	}
	return beyond(float64(up), mean, variance)
}

// rankSum is the two-sided p-value of two samples coming from the same distribution.
func rankSum(a, b []float64) float64 {
	if len(a) == 0 || len(b) == 0 {
		return 1
	}
	ranks := doubledRanks(slices.Concat(a, b))
	sum := 0
	for _, r := range ranks[:len(a)] {
		sum += r
	}
	if len(ranks) > exactRuns {
		return runsNormal(ranks, len(a), sum)
	}
	return runsExact(ranks, len(a), sum)
}

// runsExact counts the choices of m runs by the sum of their doubled ranks.
func runsExact(ranks []int, m, sum int) float64 {
	total := 0
	for _, r := range ranks {
		total += r
	}
	ways := make([][]float64, m+1) // by how many are chosen, and their sum
	for k := range ways {
		ways[k] = make([]float64, total+1)
	}
	ways[0][0] = 1
	for _, r := range ranks {
		for k := m; k > 0; k-- {
			for s := total; s >= r; s-- {
				ways[k][s] += ways[k-1][s-r]
			}
		}
	}
	all := 0.0
	for _, w := range ways[m] {
		all += w
	}
	for s := range ways[m] {
		ways[m][s] /= all
	}
	return tails(ways[m], sum)
}

func runsNormal(ranks []int, m, sum int) float64 {
	n, mean, variance := len(ranks), 0.0, 0.0
	for _, r := range ranks {
		mean += float64(r) / float64(n)
	}
	for _, r := range ranks {
		x := float64(r) - mean
		variance += float64(x * x)
	}
	variance *= float64(m) * float64(n-m) / (float64(n) * float64(n-1))
	return beyond(float64(sum), mean*float64(m), variance)
}

// doubledRanks gives each value its rank from 1, doubled so that the mean rank of ties is whole.
func doubledRanks(values []float64) []int {
	order := make([]int, len(values))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(i, j int) int { return cmp.Compare(values[i], values[j]) })
	ranks := make([]int, len(values))
	for i := 0; i < len(order); {
		j := i
		for j < len(order) && values[order[j]] == values[order[i]] {
			j++
		}
		for _, k := range order[i:j] {
			ranks[k] = i + 1 + j
		}
		i = j
	}
	return ranks
}

// tails is the probability of what lies at least as far out as at, on either side.
func tails(chance []float64, at int) float64 {
	low, high := 0.0, 0.0
	for s, p := range chance {
		if s <= at {
			low += p
		}
		if s >= at {
			high += p
		}
	}
	return min(1, 2*min(low, high))
}

// beyond is tails for the normal distribution, with the doubled ranks' continuity correction.
func beyond(at, mean, variance float64) float64 {
	if variance == 0 {
		return 1
	}
	z := max(0, math.Abs(at-mean)-1) / math.Sqrt(variance)
	return math.Erfc(z / math.Sqrt2)
}

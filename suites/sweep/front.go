package sweep

import (
	"cmp"
	"math"
	"slices"
)

// Front are the scores that meet every criterion and that no other such beats: none is at least as good in all goals and better
// in one. They are in the order of the first goal, the best first. Without goals the least share is the one goal.
func Front(scores []Score, goals []Goal) []Score {
	type candidate struct {
		Score
		costs []float64
	}
	var list []candidate
	for _, s := range scores {
		if costs, known := costsOf(&s, goals); known && s.Passed() {
			list = append(list, candidate{s, costs})
		}
	}
	// In the order of the first cost, then the second, and so on, only what stands before can beat what stands behind.
	slices.SortStableFunc(list, func(a, b candidate) int { return slices.Compare(a.costs, b.costs) })
	var front []candidate
	for _, c := range list {
		if !slices.ContainsFunc(front, func(f candidate) bool { return beats(f.costs, c.costs) }) {
			front = append(front, c)
		}
	}
	out := make([]Score, len(front))
	for i, c := range front {
		out[i] = c.Score
	}
	return out
}

// beats says that costs are nowhere greater and somewhere less.
func beats(a, b []float64) bool {
	less := false
	for i := range a {
		if a[i] > b[i] {
			return false
		}
		less = less || a[i] < b[i]
	}
	return less
}

// costsOf turns the goals of a score so that less is better.
func costsOf(s *Score, goals []Goal) ([]float64, bool) {
	if len(goals) == 0 {
		share, known := s.Share.Value()
		return []float64{-share}, known
	}
	costs := make([]float64, len(goals))
	for i, g := range goals {
		v, known := s.Goals[i].Value()
		if !known {
			return nil, false
		}
		if costs[i] = v; g.More {
			costs[i] = -v
		}
	}
	return costs, true
}

// Recommend picks one of a front: the nearest to the best of all goals at once, each told in shares of the front's own span;
// of several such the one of the largest least share, then of the largest mean share, then the first of the design. False where the front
// is empty.
func Recommend(front []Score, goals []Goal) (Score, bool) {
	if len(front) == 0 {
		return Score{}, false
	}
	costs := make([][]float64, len(front))
	for i := range front {
		costs[i], _ = costsOf(&front[i], goals)
	}
	low, high := slices.Clone(costs[0]), slices.Clone(costs[0])
	for _, c := range costs {
		for k, v := range c {
			low[k], high[k] = min(low[k], v), max(high[k], v)
		}
	}
	distance := func(i int) float64 {
		sum := 0.0
		for k, v := range costs[i] {
			if high[k] > low[k] {
				d := (v - low[k]) / (high[k] - low[k])
				sum += d * d
			}
		}
		return math.Sqrt(sum)
	}
	order := make([]int, len(front))
	for i := range order {
		order[i] = i
	}
	best := slices.MinFunc(order, func(a, b int) int {
		return cmp.Or(cmp.Compare(distance(a), distance(b)), bySafety(&front[a], &front[b]))
	})
	return front[best], true
}

// bySafety puts the larger share first, then the larger mean share, then the earlier point.
func bySafety(a, b *Score) int {
	value := func(v float64, known bool) float64 {
		if !known {
			return math.Inf(-1)
		}
		return v
	}
	return cmp.Or(
		cmp.Compare(value(b.Share.Value()), value(a.Share.Value())),
		cmp.Compare(value(b.Mean.Value()), value(a.Mean.Value())),
		cmp.Compare(a.Point, b.Point))
}

// Safest is the score of the largest least share, of those that pass or, where none does, of all; false where there is none.
func Safest(scores []Score) (Score, bool) {
	if len(scores) == 0 {
		return Score{}, false
	}
	passing := func(s *Score) int {
		if s.Passed() {
			return 0
		}
		return 1
	}
	return slices.MinFunc(scores, func(a, b Score) int {
		return cmp.Or(cmp.Compare(passing(&a), passing(&b)), bySafety(&a, &b))
	}), true
}

package falsify

import "math"

// Coverage is how much of the ranges was met by cases that could be judged.
type Coverage struct {
	Parameters []Covered `json:"parameters"`
	// Pairs are the cells of all pairs of parameters, and PairsMet those that were met.
	Pairs    int `json:"pairs"`
	PairsMet int `json:"pairs_met"`
}

// Covered is what was met of one parameter.
type Covered struct {
	Name string `json:"name"`
	Low  string `json:"low"`
	High string `json:"high"`
	// Counts are the cases in each part of the range, tenths of it or words.
	Counts []int `json:"counts"`
	Met    int   `json:"met"`
	// With is the share of pair cells met with each parameter, itself at 1.
	With []float64 `json:"with"`
}

// Coverage counts the cases that were judged, by tenths of each range and by cells of each pair of them.
func (h *Hunt) Coverage() Coverage {
	ps := h.Problem.Within.Parameters
	c := Coverage{Parameters: make([]Covered, len(ps))}
	cellOf := func(k int, u float64) int { n := ps[k].Cells(); return min(int(u*float64(n)), n-1) }
	for k := range ps {
		low, high := ps[k].Limits()
		c.Parameters[k] = Covered{Name: ps[k].Name, Low: low, High: high, Counts: make([]int, ps[k].Cells()), With: make([]float64, len(ps))}
		c.Parameters[k].With[k] = 1
	}
	for i := range h.Trials {
		if t := &h.Trials[i]; !math.IsNaN(t.Share) {
			for k := range ps {
				c.Parameters[k].Counts[cellOf(k, t.X[k])]++
			}
		}
	}
	for a := range ps {
		for _, n := range c.Parameters[a].Counts {
			c.Parameters[a].Met += min(n, 1)
		}
		for b := range a {
			all := ps[a].Cells() * ps[b].Cells()
			seen := map[int]bool{}
			for i := range h.Trials {
				if t := &h.Trials[i]; !math.IsNaN(t.Share) {
					seen[cellOf(a, t.X[a])*ps[b].Cells()+cellOf(b, t.X[b])] = true
				}
			}
			c.Pairs, c.PairsMet = c.Pairs+all, c.PairsMet+len(seen)
			share := float64(len(seen)) / float64(all)
			c.Parameters[a].With[b], c.Parameters[b].With[a] = share, share
		}
	}
	return c
}

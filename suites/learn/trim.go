package learn

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/optimize"
)

// trim prepares devices and jumps for the scenario. What is left over when each device is driven by the log is small, and yet drifts
// far once the loops are closed, since integrators forget nothing. So the parameters are moved within their intervals, and
// the jumps within theirs, until the closed loops keep to the log. The estimates stand; only the scenario is trimmed.
func trim(r *Record, rest []float64, list []jump, units []*Learned) ([]Device, []jump) {
	devices := make([]Device, len(units))
	for i, l := range units {
		devices[i] = l.Device
		devices[i].DeadS, devices[i].PhaseS = onStep(l.Device.DeadS), onStep(l.Device.PhaseS)
		devices[i].ChargeW, devices[i].DischargeW = l.ChargeLimit.Value, l.DischargeLimit.Value
	}
	asked := r.seen()
	quick := newClosed(r, rest, slices.Clone(list), slices.Clone(devices))
	// The beginning first: once two oscillations have slipped against each other, nothing tells which way to go.
	for _, part := range []int{6, 3, 2, 1, 1} {
		to := len(rest) / part
		quick.fitJumps(to)
		quick.fitOffsets(units, to)
	}
	quick.fitJumps(len(rest))
	first := newTuning(quick, units)
	if first.reach(&asked) {
		return quick.devices, quick.jumps
	}
	// Not so: as fitted then, with the jumps where the fits had them.
	fitted := newClosed(r, rest, slices.Clone(list), slices.Clone(devices))
	plain := newTuning(fitted, units)
	if plain.reach(&asked) {
		return fitted.devices, fitted.jumps
	}
	// Nor so: all parameters, from the beginning on, which takes longer, and is not always the better.
	thorough := newClosed(r, rest, slices.Clone(list), slices.Clone(devices))
	second := newTuning(thorough, units)
	for _, part := range []float64{10, 6, 4, 3, 2, 1.4, 1, 1} {
		to := int(float64(len(rest)) / part)
		thorough.fitJumps(to)
		second.tune(to)
	}
	thorough.fitJumps(len(rest))
	if second.reach(&asked) {
		return thorough.devices, thorough.jumps
	}
	best := first
	for _, t := range []*tuning{plain, second} {
		if t.cost(len(rest), math.Inf(1)) < best.cost(len(rest), math.Inf(1)) {
			best = t
		}
	}
	return best.c.devices, best.c.jumps
}

// fitJumps goes through the jumps in the order of time, and puts each where the units' answers come closest to the log's. Only what
// changes after it counts, and only until the next.
func (c *closed) fitJumps(end int) {
	reach := int(max(20/c.r.StepS, 6))
	for k := range c.jumps {
		from := c.jumps[k].after
		if from >= end {
			return
		}
		to := min(from+reach, len(c.rest))
		if k+1 < len(c.jumps) {
			to = min(to, max(c.jumps[k+1].after+1, from+4))
		}
		to = min(to, len(c.rest))
		best, at := math.Inf(1), c.jumps[k].share
		for _, share := range jumpShares {
			c.jumps[k].share = share
			c.play(to)
			if s := c.change(from, to); s < best-1e-9 {
				best, at = s, share
			}
		}
		c.jumps[k].share = at
	}
}

var jumpShares = []float64{0.05, 0.15, 0.25, 0.35, 0.45, 0.55, 0.65, 0.75, 0.85, 0.95}

// change is how far the units' courses from a sample on depart from the log's.
func (c *closed) change(from, to int) float64 {
	sum := 0.0
	for i, u := range c.r.Units {
		left := u.PowerW[from] - c.run[i][from]
		for n := from + 1; n < to; n++ {
			sum += math.Abs(u.PowerW[n] - c.run[i][n] - left)
		}
	}
	return sum
}

const (
	trimGain    = 0.02 // by how much a gain may be moved, one standard deviation [1]
	trimOffsetW = 0.7  // the same of an offset [W]
	trimDeadS   = 0.1  // the same of a dead time [s]
)

func (c *closed) fitOffsets(units []*Learned, end int) {
	n := len(units)
	base := make([]Device, n)
	for i, l := range units {
		base[i] = c.devices[i]
		base[i].Gain, base[i].OffsetW, base[i].DeadS = l.Device.Gain, l.Device.OffsetW, l.Device.DeadS
	}
	set := func(x []float64) {
		for i := range n {
			c.devices[i].Gain = base[i].Gain * math.Exp(x[3*i]*trimGain)
			c.devices[i].OffsetW = base[i].OffsetW + x[3*i+1]*trimOffsetW
			c.devices[i].DeadS = onStep(max(base[i].DeadS+x[3*i+2]*trimDeadS, 0))
		}
	}
	cost := func(x []float64) float64 {
		set(x)
		c.play(end)
		sum := 0.0
		for i, u := range c.r.Units {
			for k, w := range u.PowerW[:end] {
				z := (w - c.run[i][k]) / trimScaleW
				if !math.IsNaN(z) {
					sum += math.Log1p(z * z)
				}
			}
		}
		for _, v := range x {
			sum += v * v
		}
		return sum
	}
	start := make([]float64, 3*n)
	for i := range n {
		start[3*i] = math.Log(c.devices[i].Gain/base[i].Gain) / trimGain
		start[3*i+1] = (c.devices[i].OffsetW - base[i].OffsetW) / trimOffsetW
		start[3*i+2] = (c.devices[i].DeadS - base[i].DeadS) / trimDeadS
	}
	settings := &optimize.Settings{FuncEvaluations: 120 * n, Converger: &optimize.FunctionConverge{Absolute: 0.5, Iterations: 20}}
	result, err := optimize.Minimize(optimize.Problem{Func: cost}, start, settings, &optimize.NelderMead{SimplexSize: 1})
	if result == nil || err != nil && result.F >= cost(start) {
		set(start)
		return
	}
	set(result.X)
}

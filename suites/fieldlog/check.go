package fieldlog

import (
	"fmt"
	"math"
)

// Check tells what a reader should know of a log before trusting what is made of it.
func Check(l *Log) []Finding {
	c := checking{l: l}
	c.sampling()
	c.resolutions()
	c.saturation()
	c.clocks()
	c.balance()
	return c.found
}

type checking struct {
	l     *Log
	found []Finding
}

func (c *checking) tell(level Level, where, format string, args ...any) {
	c.found = append(c.found, Finding{level, where, fmt.Sprintf(format, args...)})
}

// sampling states what the log's step can show: nothing faster than two samples (H. Nyquist, 1928), and a shape only from about
// ten samples a period on (common practice, no source).
func (c *checking) sampling() {
	l := c.l
	step := l.StepS
	shortest := 2 * step
	text := fmt.Sprintf("a value each %g s shows no oscillation of a period under %g s, and its shape only from about %g s on", step, shortest, 10*step)
	if shortest >= 10 {
		text += "; loops of inverters hunt with periods of 4 s to 60 s: one of 10 s cannot be seen here, and may show as a slower one (log each second to see it)"
		c.tell(Warning, "sampling", "%s", text)
	} else {
		c.tell(Note, "sampling", "%s", text)
	}
	for _, s := range c.powers() {
		if s.Counter {
			c.tell(Warning, s.Name, "from an energy counter: each power is a mean over %g s, which hides what happens within", s.EveryS)
		}
		if s.EveryS > 0 && s.EveryS < step*0.7 {
			c.tell(Note, s.Name, "logged each %g s, more often than what is compared with it", s.EveryS)
		}
	}
}

func (c *checking) powers() []*Signal {
	list := []*Signal{&c.l.Grid}
	for i := range c.l.Units {
		list = append(list, &c.l.Units[i].Power)
	}
	if c.l.Load != nil {
		list = append(list, c.l.Load)
	}
	if c.l.Solar != nil {
		list = append(list, c.l.Solar)
	}
	return list
}

func (c *checking) resolutions() {
	for _, s := range c.powers() {
		if s.ResolutionW > 15 {
			c.tell(Warning, s.Name, "its values are %.3g W apart: nothing smaller shows, and a meter offset under about %.2g W does not either", s.ResolutionW, s.ResolutionW/4)
		}
	}
	for _, u := range c.l.Units {
		if u.SOC == nil {
			c.tell(Note, u.Name, "no state of charge: capacity and efficiency cannot be told")
		}
	}
}

// saturation looks for powers that stand at their largest value.
func (c *checking) saturation() {
	for i := range c.l.Units {
		s := &c.l.Units[i].Power
		high, low := math.Inf(-1), math.Inf(1)
		n := 0
		for _, w := range s.Values {
			if known(w) {
				high, low = max(high, w), min(low, w)
				n++
			}
		}
		for _, side := range []float64{high, low} {
			if math.Abs(side) < 100 {
				continue
			}
			at := 0
			for k, w := range s.Values {
				asked := c.l.Grid.Values[k]*math.Copysign(1, side) < -60
				if asked && math.Abs(w-side) <= max(0.003*math.Abs(side), s.ResolutionW) {
					at++
				}
			}
			if share := float64(at) / float64(n); share > 0.05 {
				word := "charging"
				if side < 0 {
					word = "discharging"
				}
				c.tell(Note, s.Name, "%.0f %% of the time it stands at its largest %s power, %.0f W, and the grid flow asks for more: its loop is at rest then, and tells nothing", share*100, word, math.Abs(side))
			}
		}
	}
}

const (
	mostShift   = 30     // how far clocks are looked for apart, in samples
	mostCompare = 20_000 // samples that are compared
)

// part is the middle of a long series.
func part(v []float64) []float64 {
	if len(v) <= mostCompare {
		return v
	}
	from := (len(v) - mostCompare) / 2
	return v[from : from+mostCompare]
}

// clocks looks for columns whose clock is behind or ahead of the grid's: ones that the grid flow does not show as they are, and shows
// shifted. The shift is the one at which the factor stands out most from its error.
func (c *checking) clocks() {
	if c.mixed() {
		return
	}
	grid := changes(part(c.l.Grid.Values))
	list := c.powers()[1:]
	var xs [][]float64
	for _, s := range list {
		xs = append(xs, changes(part(s.Values)))
	}
	asItIs := regress(grid, xs)
	for j, s := range list {
		if f := asItIs.factors[j]; f > 0.6 && f < 1.6 || f < -0.4 || dot(xs[j], xs[j]) == 0 {
			continue // right as it is, or reversed
		}
		own := xs[j]
		best, at, share := 6.0, 0, 0.0 // standard errors that rule out chance among all shifts
		for k := -mostShift; k <= mostShift; k++ {
			xs[j] = shifted(own, k)
			r := regress(grid, xs)
			if f := r.factors[j]; f > 0.75 && f < 1.35 && f/r.errors[j] > best && r.share >= asItIs.share {
				best, at, share = f/r.errors[j], k, r.share
			}
		}
		xs[j] = own
		if at == 0 {
			continue
		}
		late := float64(at) * c.l.StepS
		word := "behind"
		if late < 0 {
			word = "ahead of"
		}
		c.tell(Warning, s.Name, "its clock is %g s %s the grid column's, by cross-correlation: shifted so, the columns explain %.0f %% of what the grid flow moves, and %.0f %% as they are (late: %g s in the column map)",
			math.Abs(late), word, share*100, asItIs.share*100, late)
	}
}

// shifted is a series as it was k samples later.
func shifted(x []float64, k int) []float64 {
	out := make([]float64, len(x))
	for i := range out {
		if at := i + k; at >= 0 && at < len(x) {
			out[i] = x[at]
		}
	}
	return out
}

// mixed says whether some columns are means from counters and others are not: value by value they cannot be compared.
func (c *checking) mixed() bool {
	counters, all := 0, 0
	for _, s := range c.powers() {
		all++
		if s.Counter {
			counters++
		}
	}
	return counters > 0 && counters < all
}

// balance compares the grid flow with what it should be the sum of.
func (c *checking) balance() {
	l := c.l
	if c.mixed() {
		c.tell(Note, "balance", "some columns are means from counters and others are powers: signs and clocks cannot be checked value by value")
		return
	}
	grid := changes(part(l.Grid.Values))
	var xs [][]float64
	list := c.powers()[1:]
	for _, s := range list {
		xs = append(xs, changes(part(s.Values)))
	}
	r := regress(grid, xs)
	for i, s := range list {
		f := r.factors[i]
		if f*f*dot(xs[i], xs[i]) < 1e-3*dot(grid, grid) && dot(xs[i], xs[i]) < 1e-2*dot(grid, grid) || math.Abs(f-1) < 3*r.errors[i] {
			continue // it hardly moves, or 1 is as likely
		}
		switch size := math.Abs(f); {
		case f < -0.4 && f > -2 && math.Abs(f-1) > 5*r.errors[i]:
			c.tell(Warning, s.Name, "it looks reversed: the grid flow moves by %.2f of what it moves, where 1 is due", f)
		case size > 300 && size < 3000:
			c.tell(Warning, s.Name, "it looks like kW where W is said: the grid flow moves by %.0f of what it moves", f)
		case size > 0.0003 && size < 0.003 && r.errors[i] < 0.0003:
			c.tell(Warning, s.Name, "it looks like W where kW is said: the grid flow moves by %.4f of what it moves", f)
		case f > 0.25 && f < 0.42:
			c.tell(Warning, s.Name, "the grid flow moves by %.2f of what it moves, about a third: the grid column may hold one phase of three", f)
		case size < 0.25:
			c.tell(Warning, s.Name, "it does not show in the grid flow (%.2f of what it moves): another phase, another clock, or behind another meter", f)
		case f < 0.8 || f > 1.25:
			c.tell(Note, s.Name, "the grid flow moves by %.2f of what it moves, where 1 is due", f)
		}
	}
	if l.Load == nil {
		c.tell(Note, "balance", "no load column: the rest of the site is what grid and inverters leave over, and its errors cannot be seen")
		return
	}
	sum, square, n := 0.0, 0.0, 0.0
	for i, g := range l.Grid.Values {
		r := g
		for _, s := range list {
			r -= s.Values[i]
		}
		if known(r) {
			sum += r
			square += r * r
			n++
		}
	}
	if n == 0 {
		return
	}
	m := sum / n
	sd := math.Sqrt(max(square/n-m*m, 0))
	level := Note
	if math.Abs(m) > 100 || sd > 200 {
		level = Warning
	}
	c.tell(level, "balance", "grid less load, PV and inverters leaves %.0f W on average, with a standard deviation of %.0f W", m, sd)
}

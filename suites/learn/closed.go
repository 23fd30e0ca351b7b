package learn

import (
	"math"

	"kilter/physics"
)

// closed is the site that is about to be written, its loops closed: the rest of the site as rebuilt, and the devices as the
// scenario will have them, with times on the bench's step.
type closed struct {
	r       *Record
	rest    []float64
	devices []Device
	jumps   []jump
	startW  []float64
	noise   func() float64 // of each reading of a meter [W]; nil for none

	run    [][]float64 // of each unit at the samples
	alone  []physics.Alone
	past   [][]float64 // of each unit's output before its dead time, a ring
	phases []int       // tick of the first sample
	period []int
	fresh  []int // refresh
	dead   []int
	shares []float64 // of the interval after each sample; NaN where nothing is sudden
}

// closedStepS is the step of the bench [s], of which the times in a site file are multiples.
const closedStepS = 0.1

func newClosed(r *Record, rest []float64, list []jump, devices []Device) *closed {
	c := &closed{r: r, rest: rest, devices: devices, jumps: list}
	n := len(devices)
	c.run, c.past = make([][]float64, n), make([][]float64, n)
	c.alone = make([]physics.Alone, n)
	c.phases, c.period, c.fresh, c.dead = make([]int, n), make([]int, n), make([]int, n), make([]int, n)
	c.shares = make([]float64, len(rest))
	for i := range devices {
		c.run[i] = make([]float64, len(rest))
		c.startW = append(c.startW, firstKnown(r.Units[i].PowerW))
	}
	return c
}

// play runs it from the first sample to the last, both included.
func (c *closed) play(to int) {
	per := int(math.Round(c.r.StepS / closedStepS))
	for n := range c.shares {
		c.shares[n] = math.NaN()
	}
	for _, j := range c.jumps {
		c.shares[j.after] = j.share
	}
	readings := make([]float64, len(c.devices))
	out := make([]float64, len(c.devices))
	for i := range c.devices {
		d := c.devices[i]
		p := d.params(c.startW[i])
		c.alone[i] = physics.NewAlone(&p, closedStepS)
		out[i] = c.alone[i].PowerW
		ticks := func(s float64) int { return int(math.Round(s / closedStepS)) }
		c.dead[i], c.period[i], c.fresh[i] = ticks(d.DeadS), max(ticks(d.PeriodS), 1), max(ticks(d.RefreshS), 1)
		c.phases[i] = ticks(d.PhaseS) % c.period[i]
		if cap(c.past[i]) < c.dead[i]+1 {
			c.past[i] = make([]float64, c.dead[i]+1)
		}
		c.past[i] = c.past[i][:c.dead[i]+1]
		for k := range c.past[i] {
			c.past[i][k] = out[i]
		}
	}
	for n := 0; n < to; n++ {
		for m := range per {
			tick := n*per + m
			x := float64(m) / float64(per)
			grid := c.rest[n]
			if n+1 < len(c.rest) {
				switch s := c.shares[n]; {
				case math.IsNaN(s):
					grid += (c.rest[n+1] - c.rest[n]) * x
				case x > s:
					grid = c.rest[n+1]
				}
			}
			for i := range out {
				if m == 0 {
					c.run[i][n] = out[i]
				}
				grid += out[i]
			}
			for i := range out {
				first := c.phases[i]
				if tick == 0 || tick >= first && (tick-first)%c.fresh[i] == 0 {
					readings[i] = grid + c.devices[i].OffsetW
					if c.noise != nil {
						readings[i] += c.noise()
					}
				}
				if tick >= first && (tick-first)%c.period[i] == 0 {
					c.alone[i].Sample(readings[i])
				}
			}
			for i := range out {
				ring := c.past[i]
				at := tick % len(ring)
				ring[at] = c.alone[i].Step()
				out[i] = ring[(at+1)%len(ring)]
				if c.dead[i] == 0 {
					out[i] = c.alone[i].PowerW
				}
			}
		}
	}
}

// seen is what its first samples show, once played.
func (c *closed) seen(end int) Seen {
	grid := make([]float64, end)
	powers := make([][]float64, len(c.run))
	for n := range grid {
		grid[n] = c.rest[n]
		for i := range powers {
			powers[i] = c.run[i][:end]
			grid[n] += powers[i][n]
		}
	}
	return seenOf(grid, powers, c.r.StepS)
}

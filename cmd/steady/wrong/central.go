package wrong

import (
	"math"
	"time"

	"kilter/cmd/steady/control"
)

// central is another design than the reference controller's: at each poll it works out what the batteries should
// do together, and gives each a set point. Its settings are where it can be wrong.
type central struct {
	gain       float64 // the part of the grid flow that is corrected at a poll [1]
	deadbandW  float64 // less grid flow than this is left alone
	stepW      float64 // set points are whole multiples of this
	blend      float64 // weight of a new grid reading in their running mean [1]
	fromOrders bool    // it counts on the last set points and not on what was measured
	fromZero   bool    // it forgets what the batteries do already
	windsUp    bool    // its sum goes on where the batteries are at their ratings
	split      func(s control.Snapshot, total float64) map[string]float64

	grid  float64
	total float64
	begun bool
	apart bool
	poor  map[string]int // polls at which a unit did not do what it was told
	told  map[string]float64
	out   map[string]time.Duration // until when a unit is not counted on
}

// sound is the design without a fault.
func sound() *central {
	return &central{gain: 1, deadbandW: 40, stepW: 1, blend: 1}
}

// given is the design with one setting changed.
func given(change func(c *central), args ...string) func() parts {
	return func() parts {
		c := sound()
		change(c)
		if len(args) == 0 {
			args = []string{"--period", "5s"}
		}
		return thinks(brain{decide: c.decide}, args...)()
	}
}

// decide gives each unit its set point.
func (c *central) decide(s control.Snapshot, o orders) {
	if !c.begun {
		c.begun, c.grid = true, s.Grid.Value
		c.poor, c.told, c.out = map[string]int{}, map[string]float64{}, map[string]time.Duration{}
		c.total = totalW(s)
	}
	c.doubt(s)
	if s.Grid.Known {
		c.grid += c.blend * (s.Grid.Value - c.grid)
	}
	c.total = c.aim(s)
	split := c.split
	if split == nil {
		split = c.share
	}
	for unit, w := range split(s, c.total) {
		c.told[unit] = w
	}
	for _, u := range s.Units {
		o.give(u, power(math.Trunc(c.told[u.Name]/c.stepW)*c.stepW), "its part")
	}
}

// aim is what the batteries should do together [W].
func (c *central) aim(s control.Snapshot) float64 {
	if !s.Grid.Known {
		return c.total
	}
	from := totalW(s)
	switch {
	case c.fromZero:
		from = 0
	case c.fromOrders || c.windsUp:
		from = c.total
	}
	able := 0.0
	if s.Cheap {
		for _, u := range s.Units {
			able += c.ability(s, u, true)
		}
		return math.Min(able, s.ImportLimitW-500+needW(s))
	}
	if math.Abs(c.grid) < c.deadbandW {
		return c.total
	}
	total := from - c.gain*c.grid
	for _, u := range s.Units {
		able += c.ability(s, u, total > 0)
	}
	if c.windsUp {
		return total
	}
	return math.Max(-able, math.Min(able, total))
}

// doubt does not count for three minutes on a unit that does next to nothing of what it was told, as one that has
// tripped.
func (c *central) doubt(s control.Snapshot) {
	for _, u := range s.Units {
		if want := c.told[u.Name]; math.Abs(want) > 300 && math.Abs(u.Power.Value) < math.Abs(want)/4 {
			c.poor[u.Name]++
		} else {
			c.poor[u.Name] = 0
		}
		if c.poor[u.Name] >= 3 {
			c.poor[u.Name], c.out[u.Name] = 0, s.At+3*time.Minute
		}
	}
}

// ability is what a unit can do [W].
func (c *central) ability(s control.Snapshot, u control.Unit, charge bool) float64 {
	switch {
	case s.At < c.out[u.Name]:
		return 0
	case charge && u.SOC.Value >= 0.999, !charge && u.SOC.Value <= u.ReserveSOC+0.005:
		return 0
	case charge:
		return u.ChargeMaxW
	}
	return u.DischargeMaxW
}

// share divides a total by what each can store or give; while states of charge are apart, the one that is behind
// takes all that it can.
func (c *central) share(s control.Snapshot, total float64) map[string]float64 {
	lo, hi := 1.0, 0.0
	for _, u := range s.Units {
		lo, hi = math.Min(lo, u.SOC.Value), math.Max(hi, u.SOC.Value)
	}
	if hi-lo > 0.03 {
		c.apart = true
	} else if hi-lo < 0.01 {
		c.apart = false
	}
	weight := map[string]float64{}
	for _, u := range s.Units {
		behind := u.SOC.Value - lo
		if total > 0 {
			behind = hi - u.SOC.Value
		}
		switch {
		case !c.apart:
			weight[u.Name] = u.CapacityWh
		case behind > 0:
			weight[u.Name] = 1
		default:
			weight[u.Name] = 0.02
		}
	}
	return c.fit(s, total, weight)
}

// fit divides a total by weight; what one cannot take goes to the others.
func (c *central) fit(s control.Snapshot, total float64, weight map[string]float64) map[string]float64 {
	parts := map[string]float64{}
	left, sign := math.Abs(total), math.Copysign(1, total)
	for range s.Units {
		sum := 0.0
		for _, u := range s.Units {
			if math.Abs(parts[u.Name]) < c.ability(s, u, total > 0) {
				sum += weight[u.Name]
			}
		}
		if sum == 0 || left <= 0 {
			break
		}
		rest := left
		for _, u := range s.Units {
			able := c.ability(s, u, total > 0) - math.Abs(parts[u.Name])
			if able <= 0 {
				continue
			}
			w := math.Min(able, rest*weight[u.Name]/sum)
			parts[u.Name] += sign * w
			left -= w
		}
	}
	for _, u := range s.Units {
		parts[u.Name] += 0
	}
	return parts
}

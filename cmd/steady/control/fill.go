package control

import (
	"fmt"
	"math"
	"time"
)

// slot is the state of filling from the grid.
type slot struct {
	open       bool
	totalW     float64 // what all may charge together; negative means that they help [W]
	raiseSince time.Duration
	full       int  // how many units were full when the shares were made
	level      bool // whether states of charge were to be brought together then
	shares     map[string]float64
	filled     map[string]bool
}

// refillSOC is how far below its target a filled battery must fall before it
// is filled again.
const refillSOC = 0.02

// marginUse is the part of the margin that noise may use up before the budget
// is cut: a quarter.
const marginUse = 4

// slotOpen tells whether batteries are to be filled from the grid. Without a
// grid reading nobody could keep the import limit, so they are not.
func (p *Policy) slotOpen(v site) bool {
	return v.Cheap && v.Grid.Known
}

// fill charges all batteries from the grid, within what the import limit
// leaves. The budget is cut at the poll that finds it too large, and raised
// after it has been larger for a while. When other load alone is over the
// limit, the batteries discharge just as much as brings import under it.
func (p *Policy) fill(v site, wanted map[string]Band, why map[string]string) {
	p.slot.mark(v.Units, p.Settings.ChargeTo)
	able, full := 0.0, 0
	for _, u := range v.Units {
		w := p.chargeable(u)
		able += w
		if w == 0 {
			full++
		}
	}
	budget := able
	if v.ImportLimitW > 0 {
		// The load that is not batteries is minus the need.
		budget = math.Min(budget, v.ImportLimitW-p.Settings.MarginW+v.needW)
	}

	s := &p.slot
	switch {
	case !s.open:
		s.open, s.totalW, s.raiseSince = true, budget, never
	case budget < s.totalW-p.Settings.MarginW/marginUse:
		s.totalW, s.raiseSince, s.shares = budget, never, nil
	case budget < s.totalW+p.Settings.RaiseW && !(budget == able && s.totalW < able):
		s.raiseSince = never
	case s.raiseSince == never:
		s.raiseSince = v.At
	case v.At-s.raiseSince >= p.Settings.Hold:
		s.totalW, s.raiseSince, s.shares = budget, never, nil
	}
	if s.shares == nil || s.full != full || s.level != p.balancing {
		s.full, s.level = full, p.balancing
		s.shares = p.split(v)
	}
	for _, u := range v.Units {
		share := s.shares[u.Name]
		switch {
		case !u.Power.Known:
			wanted[u.Name], why[u.Name] = u.free(), "released, since it does not answer"
		case share < 0:
			wanted[u.Name] = Band{MinW: share, MaxW: 0}
			why[u.Name] = "helps to keep import under its limit in the cheap slot"
		case u.CanCharge:
			wanted[u.Name] = Band{MinW: share, MaxW: share}
			why[u.Name] = fmt.Sprintf("charges in the cheap slot; the import limit leaves %.0f W for all", s.totalW)
		default:
			wanted[u.Name] = Band{MinW: 0, MaxW: share}
			why[u.Name] = "may only charge in the cheap slot; its map has no way to make it charge"
		}
	}
}

// chargeable is what a unit can be made to charge [W].
func (p *Policy) chargeable(u Unit) float64 {
	if !u.Commanded || p.slot.filled[u.Name] {
		return 0
	}
	return u.ability(charging)
}

// mark remembers which batteries are filled.
func (s *slot) mark(units []Unit, chargeTo float64) {
	if s.filled == nil {
		s.filled = map[string]bool{}
	}
	for _, u := range units {
		switch {
		case !u.SOC.Known:
		case u.SOC.Value >= math.Min(chargeTo, fullSOC):
			s.filled[u.Name] = true
		case u.SOC.Value < chargeTo-refillSOC:
			s.filled[u.Name] = false
		}
	}
}

// split shares the slot's total: charging by the energy that is still to be
// filled, so that all are full together, and helping by the energy that is there.
// While states of charge are apart none rises faster than the lowest of them.
func (p *Policy) split(v site) map[string]float64 {
	weight, most := map[string]float64{}, map[string]float64{}
	sign := 1.0
	rise := math.Inf(1)
	if p.balancing {
		rise = p.lowestRise(v)
	}
	for _, u := range v.Units {
		if !u.Commanded {
			continue
		}
		soc := 0.5
		if u.SOC.Known {
			soc = u.SOC.Value
		}
		if p.slot.totalW >= 0 {
			weight[u.Name] = math.Max(p.Settings.ChargeTo-soc, 0.001) * u.CapacityWh
			most[u.Name] = p.chargeable(u)
			if u.CapacityWh > 0 {
				most[u.Name] = math.Min(most[u.Name], rise*u.CapacityWh)
			}
		} else {
			sign = -1
			weight[u.Name] = math.Max(soc-u.ReserveSOC, 0.001) * u.CapacityWh
			most[u.Name] = u.ability(discharging)
		}
	}
	return apportion(v.Units, sign, math.Abs(p.slot.totalW), weight, most)
}

// lowestRise is how fast the state of charge can rise that is the lowest [1/h].
func (p *Policy) lowestRise(v site) float64 {
	lowest, rise := math.Inf(1), math.Inf(1)
	for _, u := range v.Units {
		if w := p.chargeable(u); w > 0 && u.CapacityWh > 0 && u.SOC.Known && u.SOC.Value < lowest {
			lowest, rise = u.SOC.Value, w/u.CapacityWh
		}
	}
	return rise
}

// apportion divides a total by weight without exceeding anybody's most; what
// one cannot take goes to the others. Shares are whole watts, rounded down.
func apportion(units []Unit, sign, total float64, weight, most map[string]float64) map[string]float64 {
	shares := map[string]float64{}
	open := map[string]bool{}
	for name, m := range most {
		if m > 0 {
			open[name] = true
		}
	}
	for left := total; left >= 1 && len(open) > 0; {
		sum := 0.0
		for _, u := range units {
			if open[u.Name] {
				sum += math.Max(weight[u.Name], 1e-9)
			}
		}
		capped := false
		for _, u := range units {
			if !open[u.Name] {
				continue
			}
			part := left * math.Max(weight[u.Name], 1e-9) / sum
			if part >= most[u.Name] {
				shares[u.Name] = sign * most[u.Name]
				delete(open, u.Name)
				capped = true
			}
		}
		if capped {
			left = total
			for _, u := range units {
				left -= math.Abs(shares[u.Name])
			}
			continue
		}
		for _, u := range units {
			if open[u.Name] {
				shares[u.Name] = sign * math.Floor(left*math.Max(weight[u.Name], 1e-9)/sum)
			}
		}
		return shares
	}
	return shares
}

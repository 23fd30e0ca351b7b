package control

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"
)

// allowance is what a unit that is not first may do while states of charge are
// brought together.
type allowance struct {
	limitW     float64
	lowerSince time.Duration // since when less would have been enough
}

// allowanceSteps is into how many steps a rating is divided for allowances:
// coarse, so that they are rarely written. One that is too large by
// allowanceSlack steps falls at once, together with the load; else it falls one
// step a hold, so that grid flow hardly notices.
const (
	allowanceSteps = 20
	allowanceSlack = 5
)

// followingShare is the part of what the grid flow asked for that a unit must
// have moved by until the next poll to count as one that follows.
const followingShare = 0.25

// balance decides whether states of charge are brought together, and lets the
// unit lead that is to work first.
func (p *Policy) balance(v site) {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, u := range v.Units {
		if u.SOC.Known && u.Power.Known {
			lo, hi = math.Min(lo, u.SOC.Value), math.Max(hi, u.SOC.Value)
		}
	}
	switch {
	case hi-lo > p.Settings.SOCApart:
		p.balancing = true
	case !(hi-lo >= p.Settings.SOCTogether):
		p.balancing = false
	}
	units := p.order(v, p.dir)
	balancing := p.balancing && p.releasedUntil <= v.At
	if !p.balancing {
		p.releases = 0
		clear(p.blind)
	}
	if len(units) == 0 || !balancing && !p.distrusting(v) {
		p.unservedPolls = 0
		clear(p.allowance)
		return
	}
	if balancing && p.blind[units[0].Name] {
		p.unservedPolls = 0
		clear(p.allowance)
		p.drive(v, units[0], p.Settings.LeadShare*p.dir.along(v.needW))
		p.bind(v)
		return
	}
	if _, fixed := v.uncommanded(); !fixed {
		p.lead = p.first(v, units)
	}
	p.bind(v)
	if !p.release(v) {
		p.allow(v, units)
	}
}

// first is the unit that is to work first. The leader stays as long as it is
// as good as another, so that equals do not take turns at every poll.
func (p *Policy) first(v site, units []Unit) string {
	best := units[0]
	lead, ok := v.unit(p.lead)
	if ok && lead.Power.Known && p.fit(v, lead.Name) && (lead.ability(p.dir) > 0) == (best.ability(p.dir) > 0) &&
		math.Abs(lead.SOC.Value-best.SOC.Value) < p.Settings.SOCTogether {
		return p.lead
	}
	return best.Name
}

// order lists the units that answer, the one first that is to work first: the
// fullest discharges first, and the emptiest charges first. One that is not
// trusted comes last.
func (p *Policy) order(v site, d direction) []Unit {
	var units []Unit
	for _, u := range v.Units {
		if u.Power.Known {
			units = append(units, u)
		}
	}
	last := func(yes bool) int {
		if yes {
			return 1
		}
		return 0
	}
	slices.SortStableFunc(units, func(a, b Unit) int {
		return cmp.Or(
			cmp.Compare(last(!p.trusted(v, a.Name)), last(!p.trusted(v, b.Name))),
			cmp.Compare(last(a.ability(d) <= 0), last(b.ability(d) <= 0)),
			cmp.Compare(d.along(a.SOC.Value), d.along(b.SOC.Value)))
	})
	return units
}

// release ends the limits for a while if the first unit does not do what it
// seems able to do: near full or empty at once, else at the second poll. A unit
// for which that happens again is taken for one whose loop does not follow. It
// tells whether it did.
func (p *Policy) release(v site) bool {
	lead, ok := v.unit(p.lead)
	if !ok || v.unservedW(p.dir) <= p.Settings.UnservedAboveW || lead.exhausted(p.dir) {
		p.unservedPolls = 0
		return false
	}
	if rise := p.dir.along(lead.Power.Value - p.unservedLeadW); p.unservedPolls > 0 && rise > followingShare*p.unservedW {
		p.unservedPolls = 0 // it follows, and the load runs ahead of it
	}
	p.unservedPolls++
	p.unservedLeadW, p.unservedW = lead.Power.Value, v.unservedW(p.dir)
	if !lead.nearEnd(p.dir) && p.unservedPolls <= 1 {
		return false
	}
	p.releases++
	if p.releases > 1 && !lead.nearEnd(p.dir) && lead.Commanded && lead.drivable(p.dir) && !p.alone(v, lead.Name) {
		p.blind[lead.Name] = true // from now on it is driven when it is its turn
	} else {
		p.releasedUntil = v.At + distrustHolds*p.Settings.Hold
	}
	p.unservedPolls = 0
	clear(p.allowance)
	clear(p.excess.until)
	p.replace(v)
	return true
}

// allow gives each unit after the first what those before it leave over.
func (p *Policy) allow(v site, units []Unit) {
	rest := math.Max(p.dir.along(v.needW), 0)
	for _, u := range units {
		if u.Name == p.lead {
			rest -= p.Settings.LeadShare * u.ability(p.dir)
			continue
		}
		a := p.allowance[u.Name]
		if a == nil {
			a = &allowance{lowerSince: never}
			p.allowance[u.Name] = a
		}
		able := u.ability(p.dir)
		step := u.step()
		want := math.Min(math.Ceil(math.Max(rest, 0)/step)*step, math.Max(u.ChargeMaxW, u.DischargeMaxW))
		switch {
		case want >= a.limitW, want <= a.limitW-allowanceSlack*step:
			a.limitW, a.lowerSince = want, never
		case a.lowerSince == never:
			a.lowerSince = v.At
		case v.At-a.lowerSince >= p.Settings.Hold:
			a.limitW, a.lowerSince = a.limitW-step, never
		}
		rest -= p.Settings.LeadShare * math.Min(able, a.limitW)
	}
}

// step is the step in which the unit's limits move [W].
func (u Unit) step() float64 {
	return math.Max(1, math.Max(u.ChargeMaxW, u.DischargeMaxW)/allowanceSteps)
}

// limit is what a unit that does not lead may do in the site's direction [W],
// and why.
func (p *Policy) limit(v site, u Unit) (float64, string) {
	most := math.Max(u.ChargeMaxW, u.DischargeMaxW)
	overLimit := v.ImportLimitW > 0 && v.Grid.Known && v.Grid.Value > v.ImportLimitW-p.Settings.MarginW
	if a := p.allowance[u.Name]; a != nil && !overLimit {
		if !p.trusted(v, u.Name) {
			return a.limitW, fmt.Sprintf("leaves the %v to %s, since it worked beyond the site's need", p.dir, p.lead)
		}
		return a.limitW, fmt.Sprintf("leaves the %v to %s, whose state of charge is to catch up", p.dir, p.lead)
	}
	if p.dir == charging {
		return most, "the site has power to spare"
	}
	return most, "the site needs power"
}

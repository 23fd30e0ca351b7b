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
	limitW    float64
	lessSince time.Duration // since when less has been enough
	enoughW   float64       // what has been enough since then [W]
}

// allowanceSteps is into how many steps a rating is divided for what allowances
// come to: coarse, so that they are rarely written.
const allowanceSteps = 20

// followingShare is the part of what the grid flow asked for that a unit must
// have moved by until the next poll to count as one that follows.
const followingShare = 0.25

// compare decides whether states of charge are brought together.
func (p *Policy) compare(v site) {
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
}

// balance lets the others hand their work over to the unit that is to work first
// while states of charge are brought together.
func (p *Policy) balance(v site) {
	units := p.order(v, p.dir)
	balancing := p.balancing && p.releasedUntil <= v.At
	if !p.balancing {
		p.releases = 0
		clear(p.blind)
	}
	if len(units) == 0 || !balancing && !p.distrusting(v) {
		p.turn, p.unservedPolls = "", 0
		p.relax(v, units)
		return
	}
	if balancing && p.blind[units[0].Name] {
		p.endTurn()
		p.drive(v, units[0], units[0].step())
		return
	}
	p.turn = p.first(v, units)
	if !p.release(v) {
		p.allow(v, units)
	}
	p.bind(v)
}

// relax gives back what balancing has taken.
func (p *Policy) relax(v site, units []Unit) {
	for _, u := range units {
		if a := p.allowance[u.Name]; a != nil {
			p.adapt(v, u, a, u.most())
			if a.limitW >= u.most() {
				delete(p.allowance, u.Name)
			}
		}
	}
}

// endTurn lets all units work as much as they like.
func (p *Policy) endTurn() {
	p.turn, p.unservedPolls = "", 0
	clear(p.allowance)
}

// first is the unit that is to work first. The one whose turn it is, or else the
// leader, stays as long as it is as good as another, so that equals do not take
// turns at every poll.
func (p *Policy) first(v site, units []Unit) string {
	if name, ok := v.uncommanded(); ok {
		return name
	}
	best := units[0]
	now, ok := v.unit(p.turn)
	if !ok {
		now, ok = v.unit(p.lead)
	}
	if ok && now.Power.Known && p.fit(v, now.Name) && (now.ability(p.dir) > 0) == (best.ability(p.dir) > 0) &&
		math.Abs(now.SOC.Value-best.SOC.Value) < p.Settings.SOCTogether {
		return now.Name
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
	first, ok := v.unit(p.turn)
	if !ok || !p.untaken(v) || first.exhausted(p.dir) {
		p.unservedPolls = 0
		return false
	}
	if rise := p.dir.along(first.Power.Value - p.unservedFirstW); p.unservedPolls > 0 && rise > followingShare*p.unservedW {
		p.unservedPolls = 0 // it follows, and the load runs ahead of it
	}
	p.unservedPolls++
	p.unservedFirstW, p.unservedW = first.Power.Value, v.unservedW(p.dir)
	if !first.nearEnd(p.dir) && p.unservedPolls <= 1 {
		return false
	}
	p.releases++
	if p.releases > 1 && !first.nearEnd(p.dir) && first.Commanded && first.drivable(p.dir) && !p.alone(v, first.Name) {
		p.blind[first.Name] = true // from now on it is driven when it is its turn
	} else {
		p.releasedUntil = v.At + distrustHolds*p.Settings.Hold
	}
	p.endTurn()
	clear(p.excess.until)
	p.replace(v)
	return true
}

// allow gives each unit after the first what those before it leave over. A
// leader that is not the first keeps its freedom to work the other way until it
// has handed its work over.
func (p *Policy) allow(v site, units []Unit) {
	delete(p.allowance, p.turn)
	rest := math.Max(p.dir.along(v.needW), 0)
	for _, u := range units {
		if u.Name == p.turn {
			rest -= p.Settings.LeadShare * u.ability(p.dir)
			continue
		}
		a := p.allowance[u.Name]
		if a == nil {
			a = &allowance{limitW: u.most(), lessSince: never}
			p.allowance[u.Name] = a
		}
		p.adapt(v, u, a, math.Min(math.Ceil(math.Max(rest, 0)/u.step())*u.step(), u.most()))
		rest -= p.Settings.LeadShare * math.Min(u.ability(p.dir), a.limitW)
	}
	if a := p.allowance[p.lead]; a == nil || a.limitW <= a.enoughW {
		p.lead = p.turn
	}
}

// adapt moves an allowance by no more a poll than a grid flow that nobody minds,
// so that work changes hands without a bump.
//
// It rises at once where power is wanted, and where the unit does not use what it
// has. Once it has been too large for a hold it falls to what the unit does, and
// on from there in steps, each only once the first has taken over the one before:
// so a first that does not follow is found out at little cost. A unit that is not
// trusted is not waited for.
func (p *Policy) adapt(v site, u Unit, a *allowance, wantW float64) {
	stepW := p.Settings.UnservedAboveW
	doesW := math.Max(p.dir.along(u.Power.Value), 0)
	first, ok := v.unit(p.turn)
	wanted := v.unservedW(p.dir) > stepW || ok && first.exhausted(p.dir)
	switch {
	case !p.trusted(v, u.Name):
		a.limitW, a.enoughW, a.lessSince = wantW, wantW, never
	case wantW >= a.limitW:
		if !wanted && doesW > a.limitW-stepW/2 {
			wantW = math.Min(wantW, a.limitW+stepW)
		}
		a.limitW, a.enoughW, a.lessSince = wantW, wantW, never
	case a.lessSince == never:
		a.lessSince, a.enoughW = v.At, wantW
	default:
		a.enoughW = math.Max(a.enoughW, wantW)
		if p.falling(v, a) && !p.untaken(v) {
			a.limitW = math.Max(a.enoughW, math.Min(a.limitW, doesW)-stepW)
		}
		if a.limitW <= a.enoughW {
			a.lessSince = never
		}
	}
}

// falling tells whether a unit is handing its work over.
func (p *Policy) falling(v site, a *allowance) bool {
	return a.lessSince != never && v.At-a.lessSince >= p.Settings.Hold
}

// untaken tells whether the grid flow shows work that the first has not taken
// over: while others hand over, half of what they do so at a poll.
func (p *Policy) untaken(v site) bool {
	aboveW := p.Settings.UnservedAboveW
	for _, a := range p.allowance {
		if p.falling(v, a) {
			aboveW = p.Settings.UnservedAboveW / 2
		}
	}
	return v.unservedW(p.dir) > aboveW
}

// step is the step in which the unit's limits move [W].
func (u Unit) step() float64 {
	return math.Max(1, u.most()/allowanceSteps)
}

// most is the larger of the unit's two ratings [W].
func (u Unit) most() float64 { return math.Max(u.ChargeMaxW, u.DischargeMaxW) }

// limit is what a unit may do in the site's direction [W], and why.
func (p *Policy) limit(v site, u Unit) (float64, string) {
	overLimit := v.ImportLimitW > 0 && v.Grid.Known && v.Grid.Value > v.ImportLimitW-p.Settings.MarginW
	if a := p.allowance[u.Name]; a != nil && !overLimit {
		switch {
		case p.turn == "":
			return a.limitW, fmt.Sprintf("takes its part in the %v again", p.dir)
		case !p.trusted(v, u.Name):
			return a.limitW, fmt.Sprintf("leaves the %v to %s, since it worked beyond the site's need", p.dir, p.turn)
		}
		return a.limitW, fmt.Sprintf("leaves the %v to %s, whose state of charge is to catch up", p.dir, p.turn)
	}
	switch {
	case u.Name == p.lead:
		return u.most(), "leads"
	case p.dir == charging:
		return u.most(), "the site has power to spare"
	}
	return u.most(), "the site needs power"
}

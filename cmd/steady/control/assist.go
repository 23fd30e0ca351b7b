package control

import (
	"math"
	"time"
)

// assist is the power that a unit is driven to by its band, in the site's
// direction, since its native loop does not follow: its meter may not see the
// load, be frozen or be fitted the wrong way round.
type assist struct {
	powerW float64
	since  time.Duration // since when another power would suit better
	deaf   int           // polls at which the unit did next to nothing
	short  int           // polls at which power was short all the same
}

// lag is a unit that seems not to follow.
type lag struct {
	unit   string
	polls  int
	powerW float64 // what it did at the last of these polls [W]
	shortW float64 // what was wanted of it then [W]
}

// lagPolls is for how many polls a unit must seem not to follow.
const lagPolls = 3

// help drives units whose loops do not follow while the leader alone cannot do
// what is needed. It leaves the last step to the leader, whose loop follows.
func (p *Policy) help(v site) {
	for _, u := range v.Units {
		if a := p.assists[u.Name]; a != nil {
			p.adjust(v, u, a)
		}
	}
	short := v.unservedW(p.dir)
	u, ok := p.idle(v)
	if !ok || short <= p.Settings.UnservedAboveW {
		p.lag = lag{}
		return
	}
	rose := p.dir.along(u.Power.Value-p.lag.powerW) > followingShare*p.lag.shortW
	if p.lag.unit != u.Name || rose {
		p.lag = lag{unit: u.Name}
	}
	p.lag.polls++
	p.lag.powerW, p.lag.shortW = u.Power.Value, short
	if p.lag.polls < lagPolls {
		return
	}
	p.lag = lag{}
	p.drive(v, u, math.Max(p.dir.along(u.Power.Value), 0)+short+u.step())
}

// drive begins to drive a unit.
func (p *Policy) drive(v site, u Unit, w float64) {
	if p.lead == u.Name {
		p.replace(v)
	}
	if w = u.whole(p.dir, w); w > 0 && p.assists[u.Name] == nil && p.futile[u.Name] <= v.At {
		p.assists[u.Name] = &assist{powerW: w, since: never}
	}
}

// endAssists lets go of all units when the site's direction has turned.
func (p *Policy) endAssists() {
	if p.assistDir != p.dir {
		clear(p.assists)
		p.assistDir, p.lag = p.dir, lag{}
	}
}

// idle is the one unit that could do more than it does, though nothing keeps
// it, while all others are at their limits.
func (p *Policy) idle(v site) (Unit, bool) {
	for _, u := range p.order(v, p.dir) {
		if u.exhausted(p.dir) {
			continue
		}
		if !u.Commanded || !u.drivable(p.dir) || p.assists[u.Name] != nil || p.futile[u.Name] > v.At || p.alone(v, u.Name) {
			return Unit{}, false
		}
		limit, _ := p.limit(v, u)
		if math.Min(limit, u.ability(p.dir))-p.dir.along(u.Power.Value) > p.Settings.UnservedAboveW {
			return u, true
		}
		return Unit{}, false
	}
	return Unit{}, false
}

// whole is a power in whole steps, within what the unit can do.
func (u Unit) whole(d direction, w float64) float64 {
	return math.Floor(clamp(w, 0, u.ability(d))/u.step()+1e-9) * u.step()
}

// adjust follows the need: down at once where the unit does too much, up at
// once where power is still short and the leader is at its limit, or has not done
// it for some polls, as one whose battery is nearly empty; by a step more than that
// so that the leader trims, and else, after a hold, one step a poll towards what the leader leaves
// over, or what states of charge ask for.
func (p *Policy) adjust(v site, u Unit, a *assist) {
	over := math.Max(v.unservedW(-p.dir), v.circulatingW)
	short := v.unservedW(p.dir)
	lead, _ := v.unit(p.lead)
	if a.deaf++; p.dir.along(u.Power.Value) >= u.step()/2 {
		a.deaf = 0
	}
	if a.deaf >= lagPolls {
		// It cannot, as one that has tripped: driving it is of no use.
		p.futile[u.Name] = v.At + distrustHolds*p.Settings.Hold
		delete(p.assists, u.Name)
		return
	}
	if a.short++; short <= p.Settings.UnservedAboveW {
		a.short = 0
	}
	need := p.dir.along(v.needW)
	want := math.Min(need-p.Settings.LeadShare*lead.ability(p.dir), a.powerW)
	if p.balancing && p.blind[u.Name] && p.order(v, p.dir)[0].Name == u.Name {
		want = p.Settings.LeadShare * need
	}
	want = clamp(want, 0, u.ability(p.dir))
	switch {
	case !u.Power.Known:
	case over > p.Settings.CirculatingAboveW:
		a.powerW, a.since = u.whole(p.dir, a.powerW-over), never
	case short > p.Settings.UnservedAboveW && (lead.exhausted(p.dir) || a.short >= lagPolls):
		a.powerW, a.since, a.short = u.whole(p.dir, a.powerW+short+u.step()), never, 0
	case math.Abs(want-a.powerW) < u.step():
		a.since = never
	case a.since == never:
		a.since = v.At
	case v.At-a.since >= p.Settings.Hold:
		a.powerW = u.whole(p.dir, a.powerW+clamp(want-a.powerW, -u.step(), u.step()))
	}
	if a.powerW <= 0 {
		delete(p.assists, u.Name)
	}
}

// driven is the band of a unit that is assisted: one power, since a floor alone
// would let it stay above.
func (p *Policy) driven(a *assist) (Band, string) {
	w := float64(p.dir) * a.powerW
	return Band{MinW: w, MaxW: w}, "its own loop does not follow what the site needs"
}

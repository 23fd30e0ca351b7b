package control

import (
	"fmt"
	"math"
	"time"
)

// assist is the power that a unit is driven to by its band, in the site's
// direction, since its native loop does not follow: its meter may not see the
// load, be frozen or be fitted the wrong way round.
type assist struct {
	powerW     float64
	lowerSince time.Duration // since when the leader could do some of it
}

// lag is a unit that seems not to follow.
type lag struct {
	unit   string
	polls  int
	powerW float64 // what it did at the last of these polls [W]
}

// lagPolls is for how many polls a unit must seem not to follow.
const lagPolls = 3

// help drives units whose loops do not follow while the leader alone cannot do
// what is needed. It leaves the last step to the leader, whose loop follows.
func (p *Policy) help(v site) {
	if p.assistDir != p.dir {
		clear(p.assists)
		p.assistDir, p.lag = p.dir, lag{}
	}
	for _, u := range v.Units {
		if a := p.assists[u.Name]; a != nil {
			p.adjust(v, u, a)
		}
	}
	short := v.unservedW(p.dir)
	lead, _ := v.unit(p.lead)
	u, ok := p.idle(v)
	if !ok || short <= p.Settings.UnservedAboveW || !lead.exhausted(p.dir) {
		p.lag = lag{}
		return
	}
	rose := p.dir.along(u.Power.Value-p.lag.powerW) > followingRise*u.ability(p.dir)
	if p.lag.unit != u.Name || rose {
		p.lag = lag{unit: u.Name}
	}
	p.lag.polls++
	p.lag.powerW = u.Power.Value
	if p.lag.polls < lagPolls {
		return
	}
	p.lag = lag{}
	if w := p.most(v, u, math.Max(p.dir.along(u.Power.Value), 0)+short); w > 0 {
		p.assists[u.Name] = &assist{powerW: w, lowerSince: never}
	}
}

// idle is a unit that could do more than it does, though nothing keeps it.
func (p *Policy) idle(v site) (Unit, bool) {
	for _, u := range p.order(v, p.dir) {
		if u.Name == p.lead || !u.Commanded || !u.drivable(p.dir) || u.nearEnd(p.dir) || p.assists[u.Name] != nil {
			continue
		}
		limit, _ := p.limit(v, u)
		if math.Min(limit, u.ability(p.dir))-p.dir.along(u.Power.Value) > p.Settings.UnservedAboveW {
			return u, true
		}
	}
	return Unit{}, false
}

// most is a power in whole steps, within what the unit may and can do.
func (p *Policy) most(v site, u Unit, w float64) float64 {
	limit, _ := p.limit(v, u)
	step := math.Max(u.ChargeMaxW, u.DischargeMaxW) / allowanceSteps
	return math.Floor(math.Max(0, math.Min(w, math.Min(limit, u.ability(p.dir))))/step) * step
}

// adjust follows the need: down at once where the unit does too much, up where
// power is still short, and down step by step where the leader has room.
func (p *Policy) adjust(v site, u Unit, a *assist) {
	over := math.Max(v.unservedW(-p.dir), v.circulatingW)
	short := v.unservedW(p.dir)
	lead, _ := v.unit(p.lead)
	step := math.Max(u.ChargeMaxW, u.DischargeMaxW) / allowanceSteps
	switch {
	case !u.Power.Known:
	case over > p.Settings.CirculatingAboveW:
		a.powerW, a.lowerSince = p.most(v, u, a.powerW-over), never
	case short > p.Settings.UnservedAboveW && lead.exhausted(p.dir):
		a.powerW, a.lowerSince = p.most(v, u, a.powerW+short), never
	case p.dir.along(lead.Power.Value) >= p.Settings.LeadShare*lead.ability(p.dir)-step:
		a.lowerSince = never
	case a.lowerSince == never:
		a.lowerSince = v.At
	case v.At-a.lowerSince >= p.Settings.Hold:
		a.powerW, a.lowerSince = p.most(v, u, a.powerW-step), v.At
	}
	if a.powerW <= 0 {
		delete(p.assists, u.Name)
	}
}

// driven is the band of a unit that is assisted.
func (p *Policy) driven(v site, u Unit, a *assist) (Band, string) {
	limit, _ := p.limit(v, u)
	b := u.within(p.dir, math.Max(limit, a.powerW))
	if p.dir == charging {
		b.MinW = a.powerW
	} else {
		b.MaxW = -a.powerW
	}
	return b, fmt.Sprintf("its own loop does not follow, and %s cannot do it all", p.lead)
}

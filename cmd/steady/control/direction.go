package control

// steer decides the direction of the site and who leads.
//
// The direction follows the need of the site, which does not depend on what is
// blocked at the moment: blocked power shows up in the grid flow. It turns
// slowly as long as the leader alone does what is needed, and at once when
// blocked power is wanted or power circulates.
func (p *Policy) steer(v site) {
	toward := directionOf(v.needW)
	if p.dir == undecided {
		p.dir, p.bound = toward, ""
		p.opposedSince, p.opposedPolls = never, 0
	}

	sure := v.needW > p.Settings.CirculatingAboveW || v.needW < -p.Settings.CirculatingAboveW
	circulating := v.circulatingW > p.Settings.CirculatingAboveW
	if !sure || toward == p.dir {
		p.opposedSince, p.opposedPolls = never, 0
	} else {
		if p.opposedSince == never {
			p.opposedSince = v.At
		}
		p.opposedPolls++
		lead, _ := v.unit(p.lead)
		unserved := v.unservedW(toward) > p.Settings.UnservedAboveW
		switch {
		case circulating,
			unserved && (p.bound == p.lead || lead.exhausted(toward) || lead.nearEnd(toward) || p.opposedPolls > 1),
			v.At-p.opposedSince >= p.Settings.Hold:
			p.dir, p.bound = toward, ""
			p.opposedSince, p.opposedPolls = never, 0
		}
	}

	p.elect(v, circulating && len(p.assists) == 0)
	p.bind(v)
}

// elect lets another unit lead when the leader works the wrong way, or has not
// answered for a while. One that has just fallen silent goes on working, so it
// keeps the lead: two free units would drift apart, and nobody could see it.
func (p *Policy) elect(v site, circulating bool) {
	lead, ok := v.unit(p.lead)
	switch {
	case !ok || circulating:
		p.replace(v)
	case lead.Power.Known:
		p.leadSeen = v.At
	case v.At-p.leadSeen >= silentHolds*p.Settings.Hold:
		p.replace(v)
	}
	if name, ok := v.uncommanded(); ok {
		p.lead = name
	}
}

// bind takes the wrong way from a leader that works it while power circulates,
// where it is to lead even so. One that may not be commanded goes on as it likes:
// the others hold still then, until more is wanted than it does.
func (p *Policy) bind(v site) {
	lead, ok := v.unit(p.lead)
	if ok && !lead.Commanded && v.unservedW(p.dir) > p.Settings.UnservedAboveW {
		p.bound = ""
	}
	if ok && v.circulatingW > p.Settings.CirculatingAboveW && p.dir.along(lead.Power.Value) < 0 && len(p.assists) == 0 {
		p.bound = p.lead
	}
}

// replace lets the unit lead that does most of the work.
func (p *Policy) replace(v site) {
	if name := p.mostActive(v, p.dir); name != "" {
		p.lead = name
	}
}

// fit tells whether a unit may lead: it is trusted, and its loop follows. One that is driven would run
// away by itself as soon as it were free.
func (p *Policy) fit(v site, unit string) bool {
	return p.trusted(v, unit) && !p.blind[unit] && p.assists[unit] == nil
}

// silentHolds is for how many holds a silent leader is waited for.
const silentHolds = 10

// mostActive is the unit that does most of the work in a direction, and of
// equals the one that could do most. Only where no unit is fit to lead does it
// answer one that is not.
func (p *Policy) mostActive(v site, d direction) string {
	var best Unit
	for _, u := range v.Units {
		if !u.Power.Known {
			continue
		}
		better := d.along(u.Power.Value) > d.along(best.Power.Value) ||
			u.Power.Value == best.Power.Value && u.ability(d) > best.ability(d)
		if fit, bestFit := p.fit(v, u.Name), p.fit(v, best.Name); fit != bestFit {
			better = fit
		}
		if best.Name == "" || better {
			best = u
		}
	}
	return best.Name
}

// uncommanded is a battery that works as it likes. Only one unit may be free,
// so it leads.
func (v site) uncommanded() (string, bool) {
	for _, u := range v.Units {
		if !u.Commanded && u.Power.Known {
			return u.Name, true
		}
	}
	return "", false
}

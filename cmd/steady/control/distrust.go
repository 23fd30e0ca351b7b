package control

import "time"

// distrustHolds is for how many holds a unit is not trusted that did not do
// what it could, or that did more than was needed: its own meter may be frozen,
// or not see the load.
const distrustHolds = 10

// excess watches for a unit that goes on working when the grid flow shows that
// it works too much.
type excess struct {
	polls  int
	worker string
	powerW float64                  // what the worker did at the last of these polls [W]
	overW  float64                  // what was too much then [W]
	until  map[string]time.Duration // when a unit is trusted again
}

// trusted tells whether a unit is trusted.
func (p *Policy) trusted(v site, unit string) bool { return p.excess.until[unit] <= v.At }

// watch stops trusting the unit that works most when, for two polls, all work
// more than the site needs and that unit does not give way. A sound native loop
// would have given way within seconds.
func (p *Policy) watch(v site) {
	e := &p.excess
	over := v.unservedW(-p.dir)
	much := over > p.Settings.UnservedAboveW && p.dir.along(v.totalW) > p.Settings.UnservedAboveW
	worker, ok := v.unit(p.mostActive(v, p.dir))
	// While power circulates another loop hides the excess from this one.
	if !much || !ok || v.circulatingW > p.Settings.CirculatingAboveW || len(p.assists) > 0 {
		e.polls = 0
		return
	}
	fell := p.dir.along(e.powerW - worker.Power.Value)
	if e.worker != worker.Name || fell > followingShare*e.overW {
		e.polls = 0
	}
	e.polls++
	e.worker, e.powerW, e.overW = worker.Name, worker.Power.Value, over
	if e.polls < 2 || !worker.Commanded || p.alone(v, worker.Name) {
		return
	}
	e.until[worker.Name] = v.At + distrustHolds*p.Settings.Hold
	e.polls = 0
	if p.lead == worker.Name {
		p.replace(v)
	}
}

// alone tells whether no other unit answers and is fit to lead.
func (p *Policy) alone(v site, unit string) bool {
	for _, u := range v.Units {
		if u.Name != unit && u.Power.Known && p.fit(v, u.Name) {
			return false
		}
	}
	return true
}

// distrusting tells whether any unit is not trusted now.
func (p *Policy) distrusting(v site) bool {
	for _, u := range v.Units {
		if !p.trusted(v, u.Name) {
			return true
		}
	}
	return false
}

package control

import (
	"math"
	"time"
)

// never marks an instant that has not come.
const never = time.Duration(-1)

// Policy is the supervisor's mind: its settings and what it remembers from
// poll to poll. The zero value with Settings is ready.
//
// At any time one unit leads and may work both ways; the others may only work in
// the direction in which the site needs its batteries. So no unit can charge from
// another for longer than a poll, while load that changes sign between polls is
// still followed at once, by the leader.
type Policy struct {
	Settings Settings

	started  bool
	dir      direction
	lead     string
	leadSeen time.Duration // when it answered last

	opposedSince time.Duration // since when the site has needed the other direction
	opposedPolls int

	balancing      bool
	turn           string        // the unit that is to work first, while others leave it the work
	unservedPolls  int           // polls at which it seemed not to follow
	unservedFirstW float64       // what it did at the last of them [W]
	unservedW      float64       // what was wanted of it then [W]
	releasedUntil  time.Duration // balancing does not limit anybody until then
	allowance      map[string]*allowance
	excess         excess

	slot slot

	bound string // a leader that, like the others, may only work in the site's direction

	releases  int             // how often balancing was released since it began
	blind     map[string]bool // units whose loops were seen not to follow
	assists   map[string]*assist
	assistDir direction
	futile    map[string]time.Duration // until when a unit is not driven, since it did not obey
	lag       lag

	grid frozenGuard

	bands map[string]Band // what each unit was told last
}

// site is what one snapshot means.
type site struct {
	Snapshot

	totalW float64 // what all batteries do together [W]
	needW  float64 // what they should do together, so that the grid flow is 0 [W]

	// circulatingW flows out of some batteries into others: the lesser of all
	// that charges and all that discharges [W].
	circulatingW float64
}

// assess derives the state of the site. Without a grid reading it assumes that
// the native loops do their work, so that what the batteries do is what is
// needed.
func assess(s Snapshot) site {
	v := site{Snapshot: s}
	var in, out float64
	for _, u := range s.Units {
		if !u.Power.Known {
			continue
		}
		v.totalW += u.Power.Value
		in += math.Max(u.Power.Value, 0)
		out += math.Max(-u.Power.Value, 0)
	}
	v.circulatingW = math.Min(in, out)
	v.needW = v.totalW
	if s.Grid.Known {
		v.needW -= s.Grid.Value
	}
	return v
}

// unservedW is the grid flow that more battery power in a direction would
// take away [W].
func (v site) unservedW(d direction) float64 {
	if !v.Grid.Known {
		return 0
	}
	return d.along(-v.Grid.Value)
}

// unit finds a unit by name.
func (v site) unit(name string) (Unit, bool) {
	for _, u := range v.Units {
		if u.Name == name {
			return u, true
		}
	}
	return Unit{}, false
}

// Decide answers the commands that change something. A unit that gets none
// keeps its band.
func (p *Policy) Decide(s Snapshot) []Command {
	s.Grid = p.grid.check(s)
	v := assess(s)
	if !p.started {
		p.started = true
		p.opposedSince = never
		p.bands = map[string]Band{}
		p.allowance = map[string]*allowance{}
		p.assists = map[string]*assist{}
		p.blind = map[string]bool{}
		p.futile = map[string]time.Duration{}
		p.excess.until = map[string]time.Duration{}
	}

	wanted := map[string]Band{}
	why := map[string]string{}
	p.compare(v)
	if p.slotOpen(v) {
		p.fill(v, wanted, why)
		p.dir = undecided // the slot's end starts afresh
	} else {
		p.slot = slot{}
		p.steer(v)
		p.endAssists()
		p.watch(v)
		p.balance(v)
		p.help(v)
		p.share(v, wanted, why)
	}
	return p.changes(v, wanted, why)
}

// GridFrozen tells whether the grid meter was not believed at the last poll.
func (p *Policy) GridFrozen() bool { return p.grid.frozen() }

// share gives the leader its freedom and the others their part.
func (p *Policy) share(v site, wanted map[string]Band, why map[string]string) {
	for _, u := range v.Units {
		if a := p.assists[u.Name]; a != nil && u.Name != p.lead {
			wanted[u.Name], why[u.Name] = p.driven(a)
			continue
		}
		limit, reason := p.limit(v, u)
		band := u.within(p.dir, limit)
		switch {
		case u.Name != p.lead && p.holdsFor(v):
			band, reason = Band{}, "it fed "+p.lead+", which may not be told"
		case u.Name != p.lead:
		case p.bound == u.Name:
			reason = "leads, but not the wrong way, since power circulated"
		default:
			band = band.or(u.within(-p.dir, u.most()))
		}
		wanted[u.Name], why[u.Name] = band, reason
	}
}

// holdsFor tells whether the others hold still for a leader that may not be
// commanded.
func (p *Policy) holdsFor(v site) bool {
	lead, ok := v.unit(p.lead)
	return ok && !lead.Commanded && p.bound == p.lead
}

// changes keeps what differs from the last word.
func (p *Policy) changes(v site, wanted map[string]Band, why map[string]string) []Command {
	var out []Command
	for _, u := range v.Units {
		if !u.Commanded {
			continue
		}
		b, ok := wanted[u.Name]
		if !ok {
			b = u.free()
		}
		if last, told := p.bands[u.Name]; told && last == b {
			continue
		}
		p.bands[u.Name] = b
		out = append(out, Command{Unit: u.Name, Band: b, Why: why[u.Name]})
	}
	return out
}

package criteria

import (
	"fmt"
	"math"
	"slices"
	"time"
)

// Reversion asks that a limit which was written with a time is gone when that
// time is over and nobody renewed it.
type Reversion struct {
	// Within is the tolerance, in either direction: one poll.
	Within time.Duration
	// Untimed, when given, is how many limits may be set until further notice on a
	// device that could be told for how long.
	Untimed *int
	// Names are what the inverters are called, in the samples' order.
	Names []string
}

// reversion follows, for each inverter and kind of limit, the last command that
// set it. If that came with a time and the limit was then in force, it is due at
// the command's time (the start of its step) plus that time, and gone at the
// start of the first step in whose sample it is not in force any more;
//
//	margin = Within - max over reversions of |gone - due|
//
// in seconds. A later command for the same limit renews it; one without a time
// ends the matter, as does a command that releases the limit or the inverter at
// once, since then somebody did. Refused commands and those that the bench itself
// calls lapsed are no commands. A limit that is still in force is late by the time
// since it was due, and is judged once that exceeds Within.
//
// A limit is set until further notice when, at the end of a step in which it was
// commanded, it is in force and its last command had no time, though the device
// could have been told one;
//
//	margin = Untimed - number of limits set until further notice
//
// Exercised counts the reversions that came to be judged and, with Untimed, the
// limits that were set on a device which can be told a time. When limits were
// written with a time and none was due before the end the status is undetermined.
//
// This looks at the devices as much as at the controller: it fails on one that
// forgets to let go, or lets go too early. What a controller that never writes a
// time leaves behind is for fail_safe.
type reversion struct {
	p Reversion
	timeline
	limits []dueLimit // by inverter, then by kind
	armed  int        // how many are waited for
	timed  int        // how many commands came with a time
	set    int        // how many limits were set that could have a time
	until  misdeed    // limits that were set until further notice

	tally reversionTally
}

// dueLimit is what is known of one limit; a due time of 0 is none.
type dueLimit struct {
	dueS     float64
	reported bool // its lateness was counted
	open     bool // commanded in this step without a time, though it could have one
}

type reversionTally struct {
	judged, failed int
	worstS         float64
	worstDueS      float64
	worstAtS       float64
	worstOf        int
	gone           bool // in the worst case the limit did go
	firstS         float64
	firstTick      int64
}

// NewReversion watches that limits end when they should.
func NewReversion(p Reversion, step time.Duration) (Monitor, error) {
	line, err := newTimeline(step)
	if err != nil {
		return nil, err
	}
	if err := wantDuration("reversion", "within", p.Within, step); err != nil {
		return nil, err
	}
	if p.Untimed != nil && *p.Untimed < 0 {
		return nil, fmt.Errorf("reversion: untimed is %d, but must not be negative", *p.Untimed)
	}
	if err := wantNames("reversion", p.Names); err != nil {
		return nil, err
	}
	return &reversion{p: p, timeline: line, limits: make([]dueLimit, limitKinds*len(p.Names))}, nil
}

func (m *reversion) Name() string { return "reversion" }

func (m *reversion) Observe(s *Sample) {
	sound := 0.0
	if len(s.Inverters)*limitKinds != len(m.limits) {
		sound = nan
	}
	if !m.accept(s, sound) {
		return
	}
	if len(s.Commands) > 0 {
		for i := range s.Commands {
			m.command(s, &s.Commands[i])
		}
		m.settle(s)
	}
	if m.armed > 0 {
		m.look(s)
	}
}

// command takes one command into account, with what is in force after it.
func (m *reversion) command(s *Sample, c *CommandSample) {
	i := c.Inverter - 1
	if i < 0 || c.Lapsed || c.Refused {
		return
	}
	if i >= len(s.Inverters) || !finite(c.LastsS) {
		m.faults++
		return
	}
	for k := range limitKinds {
		l := &m.limits[limitKinds*i+k]
		inForce := s.Inverters[i].Limits&(1<<k) != 0
		if c.Limit&(1<<k) == 0 {
			if !inForce {
				m.disarm(l) // released by another command
			}
			continue
		}
		m.disarm(l)
		l.open = c.Timeable && c.LastsS == 0 && inForce
		if c.Timeable && inForce {
			m.set++
		}
		if c.LastsS > 0 && inForce {
			l.dueS, l.reported = m.at(m.last-1)+c.LastsS, false
			m.armed++
			m.timed++
		}
	}
}

// settle counts the limits that this step's commands left without a time.
func (m *reversion) settle(s *Sample) {
	for k := range m.limits {
		l := &m.limits[k]
		if l.open {
			tolerated := math.MaxInt
			if m.p.Untimed != nil {
				tolerated = *m.p.Untimed
			}
			m.until.add(1, k/limitKinds, tolerated, m.last)
			l.open = false
		}
	}
}

func (m *reversion) disarm(l *dueLimit) {
	if l.dueS != 0 {
		m.armed--
		l.dueS = 0
	}
}

// look compares the limits that are waited for with what is in force.
func (m *reversion) look(s *Sample) {
	now := m.at(m.last - 1)
	for k := range m.limits {
		l := &m.limits[k]
		if l.dueS == 0 {
			continue
		}
		i := k / limitKinds
		if s.Inverters[i].Limits&(1<<(k%limitKinds)) == 0 {
			m.tally.take(l, i, m.last, now, true, m.p.Within.Seconds())
			m.disarm(l)
		} else if now-l.dueS > m.p.Within.Seconds()+reversionRounding {
			m.tally.take(l, i, m.last, now, false, m.p.Within.Seconds())
			l.reported = true
		}
	}
}

// reversionRounding forgives the last digits of a time, in s.
const reversionRounding = 1e-6

// take counts one reversion, or goes on with one that was counted as late.
func (t *reversionTally) take(l *dueLimit, inverter int, tick int64, nowS float64, gone bool, within float64) {
	late := max(nowS-l.dueS, l.dueS-nowS)
	if !l.reported {
		t.judged++
		if late > within+reversionRounding {
			t.failed++
			if t.failed == 1 {
				t.firstS, t.firstTick = nowS, tick
			}
		}
	}
	if t.judged == 1 || late > t.worstS {
		t.worstS, t.worstDueS, t.worstAtS, t.worstOf, t.gone = late, l.dueS, nowS, inverter, gone
	}
}

func (m *reversion) Breach() int64 { return earliest(m.tally.firstTick, m.until.over) }

func (m *reversion) Result() Result {
	t := &m.tally
	level := idle("time", "within - max over reversions of |time at which the limit was gone - time at which it was due|", "s")
	if t.judged > 0 {
		level = clause(level.Name, level.Formula, t.worstS, m.p.Within.Seconds(), reversionRounding, "s", t.worstAtS)
	}
	otherwise := NotExercised
	if m.armed > 0 {
		otherwise = Undetermined
	}
	clauses, exercised := []ClauseResult{level}, t.judged
	if p := m.p.Untimed; p != nil {
		at := m.until.over
		if at == 0 {
			at = m.until.last
		}
		clauses = append(clauses, clause("untimed", "tolerated - limits set until further notice on a device that could be told for how long",
			float64(m.until.count), float64(*p), 0, "limits", m.at(at)))
		exercised += m.set
		if t.judged == 0 { // the other clause has nothing to say
			slices.Reverse(clauses)
		}
	}
	r := conclude("reversion", exercised, otherwise, clauses...)
	if r.Status == Failed {
		r.FirstBreachS = m.at(m.until.over)
		if t.failed > 0 && (m.until.over == 0 || t.firstS < r.FirstBreachS) {
			r.FirstBreachS = t.firstS
		}
		r.Avoidable = m.until.over != 0 // what a device does with a time is not the controller's
	}
	r.Figures = []Figure{
		{"written_with_a_time", float64(m.timed), ""},
		{"failed", float64(t.failed), ""},
		{"waiting", float64(m.armed), ""},
		{"until_further_notice", float64(m.until.count), ""},
	}
	if m.until.count > 0 {
		r.note("%s set until further notice though the device could be told for how long, first of %s at %s",
			counted(m.until.count, "limit", "limits"), nameOf(m.p.Names, m.until.device), moment(m.at(m.until.first)))
	}
	switch {
	case t.judged == 0:
	case t.gone:
		r.note("the limit of %s that was due to end at %s ended at %s", nameOf(m.p.Names, t.worstOf), moment(t.worstDueS), moment(t.worstAtS))
	default:
		r.note("the limit of %s that was due to end at %s was still there at %s", nameOf(m.p.Names, t.worstOf), moment(t.worstDueS), moment(t.worstAtS))
	}
	return m.blame(r)
}

package criteria

import "time"

// Recovery asks that the site is under control again soon after the controller
// came back.
type Recovery struct {
	// BandW is half the width of the band around the achievable flow, in W.
	BandW float64
	// Within is how long it may take.
	Within time.Duration
	// Hold is how long the flow must then stay in the band.
	Hold time.Duration
}

// recovery judges, after each return of the controller (its state was dead and is
// not any more; t0 is the start of that step), the residual r = G - G*, G* being
// what the batteries could not bring to zero: the one of settle. The recovery
// time is the time from t0 to the start of the first stretch of length Hold in
// which |r| <= BandW throughout, and
//
//	margin = Within - max over returns of the recovery time
//
// which is "eventually within Within, always for Hold, |r| <= BandW". The clock
// runs from t0 to the end of the stretch's first sample; a flow that is in the
// band from t0 on takes no time.
//
// A return whose recovery is cut short, by the next death, by a window of wanted
// import or export or by the end of the run, has recovered no earlier than the
// start of the stretch that was under way, else than one step after the cut. If
// that is within Within it is censored: it says nothing and is counted apart.
// Disturbances do not stop the clock: an oven that switches takes the flow out of
// the band for a moment, so Hold must be shorter than what lies between, and
// Within leave room.
//
// Exercised counts the returns that were judged.
type recovery struct {
	p Recovery
	timeline
	within, hold int64
	dead         bool
	current      comeback
	tally        recoveryTally
}

// comeback is the return under way, in ticks; a start of 0 is none.
type comeback struct {
	start   int64
	inside  int64 // the first sample of the stretch in the band; 0 is outside
	last    int64
	settled bool
}

// took is the recovery time in steps, or its lower bound.
func (c *comeback) took() int64 {
	switch c.inside {
	case 0:
		return c.last + 2 - c.start
	case c.start:
		return 0
	}
	return c.inside + 1 - c.start
}

type recoveryTally struct {
	returns, judged, failed, censored int
	worst                             comeback
	firstFailed                       int64
}

// NewRecovery watches what happens after the controller's return.
func NewRecovery(p Recovery, step time.Duration) (Monitor, error) {
	line, err := newTimeline(step)
	if err != nil {
		return nil, err
	}
	if err := wantPositive("recovery", "band", p.BandW); err != nil {
		return nil, err
	}
	if err := wantDuration("recovery", "within", p.Within, step); err != nil {
		return nil, err
	}
	if err := wantDuration("recovery", "hold", p.Hold, 0); err != nil {
		return nil, err
	}
	return &recovery{p: p, timeline: line, within: line.ticks(p.Within), hold: line.ticks(p.Hold)}, nil
}

func (m *recovery) Name() string { return "recovery" }

func (m *recovery) Observe(s *Sample) {
	r := s.GridW
	if m.dead || m.current.start != 0 {
		r -= s.leastFlowW()
	}
	if !m.accept(s, r) {
		return
	}
	if s.Controller == ControllerDead {
		m.dead = true
		m.end()
		return
	}
	if m.dead {
		m.dead = false
		m.current = comeback{start: s.Tick}
		m.tally.returns++
	}
	c := &m.current
	if c.start == 0 {
		return
	}
	if s.ImportWanted || s.ExportWanted {
		m.end()
		return
	}
	c.last = s.Tick
	switch {
	case r > m.p.BandW || r < -m.p.BandW:
		c.inside = 0
	case c.inside == 0:
		c.inside = s.Tick
	}
	if c.inside != 0 && s.Tick-c.inside >= m.hold {
		c.settled = true
		m.end()
	}
}

// end closes the return under way.
func (m *recovery) end() {
	if m.current.start != 0 {
		m.tally = m.judge(m.tally, m.current)
		m.current = comeback{}
	}
}

// judge says what the tally is once c is closed.
func (m *recovery) judge(t recoveryTally, c comeback) recoveryTally {
	if c.last == 0 || (!c.settled && c.took() <= m.within) {
		t.censored++
		return t
	}
	t.judged++
	if c.took() > m.within {
		t.failed++
		if t.failed == 1 {
			t.firstFailed = c.start
		}
	}
	if t.judged == 1 || c.took() > t.worst.took() {
		t.worst = c
	}
	return t
}

func (m *recovery) Breach() int64 {
	if c := &m.current; m.tally.firstFailed == 0 && c.start != 0 && c.last != 0 && c.took() > m.within {
		return c.start
	}
	return m.tally.firstFailed
}

func (m *recovery) Result() Result {
	t := m.tally
	if m.current.start != 0 {
		t = m.judge(t, m.current)
	}
	level := idle("recovery_time", "within - max over returns of the time to the first stretch of hold in the band", "s")
	if t.judged > 0 {
		level = clause(level.Name, level.Formula, m.at(t.worst.took()), m.p.Within.Seconds(), 1e-6*m.stepS, "s", m.at(t.worst.start-1))
	}
	otherwise := NotExercised
	if t.returns > 0 {
		otherwise = Undetermined
	}
	r := conclude("recovery", t.judged, otherwise, level)
	if t.failed > 0 {
		r.FirstBreachS = m.at(t.firstFailed - 1)
		r.Avoidable = true
	}
	r.Figures = []Figure{
		{"returns", float64(t.returns), ""},
		{"failed", float64(t.failed), ""},
		{"censored", float64(t.censored), ""},
	}
	if t.judged > 0 {
		verb := "took"
		if !t.worst.settled {
			verb = "took more than"
		}
		r.note("the return at %s %s %s to bring the flow into the band",
			moment(m.at(t.worst.start-1)), verb, moment(m.at(t.worst.took())))
	}
	if t.censored > 0 {
		r.note("%s not judged, since the run or the time for it ended before", counted(t.censored, "return", "returns"))
	}
	return m.blame(r)
}

package criteria

import (
	"math"
	"time"
)

// FailSafe asks that the site is safe when nobody steers it.
type FailSafe struct {
	// BelowW is the battery power, in either direction, that counts as safe.
	BelowW float64
	// Within is how long after the loss it may take.
	Within time.Duration
	// NativeIsSafe says that an inverter is safe, whatever its power, once its
	// native loop is released: in native mode and under no written limit.
	NativeIsSafe bool
	// NarrowedIsSafe says that it is so under limits too, while they only narrow
	// what the loop may do and force nothing.
	NarrowedIsSafe bool
	// Names are what the inverters are called, in the samples' order.
	Names []string
}

// failSafe judges each inverter i while it is lost: while the controller is dead,
// the link to a meter by which it steers is lost, or the link to i is. t0 is the
// start of the first step of that. With
//
//	u_i[n] = 0         if NativeIsSafe and i's native loop is released, or
//	                   if NarrowedIsSafe and it is in native mode and nothing forces it
//	       = |B_i[n]|  else, B the battery power
//
// over the samples n at t0 + Within or later until the loss is over,
//
//	margin = BelowW - max over i and n of u_i[n]
//
// Two causes that overlap are one loss, from the first one's start. A tripped
// inverter carries nothing and so is safe.
//
// Exercised counts the losses, of each inverter, that lasted beyond Within and in
// which there was something to make safe: at some time u was above BelowW. When
// losses came but none lasted long enough the status is undetermined.
type failSafe struct {
	p FailSafe
	timeline
	within    int64
	inverters []lossState
	losses    int
	short     int // losses that ended before they could be judged
	exercised int

	worst      float64
	worstTick  int64
	worstOf    int
	worstSince int64
	worstCause string
	judged     bool
	breachTick int64
}

// lossState is one inverter's present loss.
type lossState struct {
	since   int64 // the first step of it; 0 is none
	cause   string
	armed   bool // something had to be made safe
	counted bool
	judged  bool
}

// NewFailSafe watches what the site does when nobody steers it.
func NewFailSafe(p FailSafe, step time.Duration) (Monitor, error) {
	line, err := newTimeline(step)
	if err != nil {
		return nil, err
	}
	if err := wantNotNegative("fail_safe", "below", p.BelowW); err != nil {
		return nil, err
	}
	if err := wantDuration("fail_safe", "within", p.Within, step); err != nil {
		return nil, err
	}
	if err := wantNames("fail_safe", p.Names); err != nil {
		return nil, err
	}
	return &failSafe{
		p: p, timeline: line, within: line.ticks(p.Within), inverters: make([]lossState, len(p.Names)), worst: -1,
	}, nil
}

func (m *failSafe) Name() string { return "fail_safe" }

func (m *failSafe) Observe(s *Sample) {
	if !m.accept(s, m.sound(s)) {
		return
	}
	all := s.Controller == ControllerDead || s.MeterLost
	for i := range m.inverters {
		l, v := &m.inverters[i], &s.Inverters[i]
		switch {
		case !all && !v.LinkLost:
			if l.since != 0 {
				m.end(l)
			}
			continue
		case l.since == 0:
			*l = lossState{since: s.Tick, cause: lossCause(s)}
			m.losses++
		}
		m.see(i, l, v)
	}
}

// lossCause says in words what was lost first.
func lossCause(s *Sample) string {
	switch {
	case s.Controller == ControllerDead:
		return "the controller was gone"
	case s.MeterLost:
		return "a meter was lost"
	}
	return "its link was lost"
}

func (m *failSafe) sound(s *Sample) float64 {
	if len(s.Inverters) != len(m.inverters) {
		return nan
	}
	total := 0.0
	for i := range s.Inverters {
		total += math.Abs(s.Inverters[i].BatteryW)
	}
	return total
}

func (m *failSafe) end(l *lossState) {
	if !l.judged {
		m.short++
	}
	*l = lossState{}
}

// see judges one sample of a loss.
func (m *failSafe) see(i int, l *lossState, v *InverterSample) {
	u := math.Abs(v.BatteryW)
	if v.Mode == ModeNative && (m.p.NativeIsSafe && v.Limits == 0 || m.p.NarrowedIsSafe && !v.Forced) {
		u = 0
	}
	l.armed = l.armed || u > m.p.BelowW+roundingW
	if m.last+1-l.since < m.within {
		return
	}
	l.judged = true
	if l.armed && !l.counted {
		l.counted = true
		m.exercised++
	}
	if u > m.worst {
		m.worst, m.worstTick, m.judged = u, m.last, true
		m.worstOf, m.worstSince, m.worstCause = i, l.since, l.cause
	}
	if u > m.p.BelowW+roundingW && m.breachTick == 0 {
		m.breachTick = m.last
	}
}

func (m *failSafe) Breach() int64 { return m.breachTick }

func (m *failSafe) Result() Result {
	level := idle("power", "below - max over inverters and times beyond within of |battery power| while nobody steers", "W")
	if m.judged {
		level = clause(level.Name, level.Formula, m.worst, m.p.BelowW, roundingW, "W", m.at(m.worstTick))
	}
	otherwise := NotExercised
	if m.losses > 0 && !m.judged {
		otherwise = Undetermined
	}
	r := conclude("fail_safe", m.exercised, otherwise, level)
	if m.breachTick != 0 {
		r.FirstBreachS = m.at(m.breachTick)
		r.Avoidable = true
	}
	r.Figures = []Figure{
		{"losses", float64(m.losses), ""},
		{"short", float64(m.short), ""},
	}
	if m.judged {
		r.note("%s carried %.0f W, %s after %s", nameOf(m.p.Names, m.worstOf), m.worst,
			moment(m.at(m.worstTick+1-m.worstSince)), m.worstCause)
	}
	if m.losses > 0 && m.exercised == 0 {
		r.note("%s, none with anything to make safe for long enough", counted(m.losses, "loss", "losses"))
	}
	return m.blame(r)
}

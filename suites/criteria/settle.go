package criteria

import (
	"math"
	"time"
)

// Settle asks that the grid flow returns to what the batteries can achieve after
// each disturbance that the scenario declares.
type Settle struct {
	// BandW is half the width of the band around the achievable flow, in W.
	BandW float64
	// Within is how long the return may take.
	Within time.Duration
	// OvershootW, when given, bounds how far the flow may go beyond what is
	// achievable, in W.
	OvershootW *float64
}

// jumpWithin is how fast the net load must move to count as a jump, and how
// close two of them must be to count as one. Common practice, no source.
const jumpWithin = time.Second

// settle judges the residual r = G - G*, where G is the grid flow and
//
//	G* = N + clamp(-N, -sum of discharge room, sum of charge room)
//
// is what remains of the net load N when the batteries do all that they can.
//
// A disturbance opens a window. It is a step that the scenario declares, or one
// in which N has jumped, by more than BandW within a second, or moved, while a
// declared disturbance unfolds: a cloud's far edge, a vehicle that ramps up. Those that
// follow each other within a second, such as the steps of one ramp, are one, and
// the clock starts with the last. Its time t0 is the start of the step. A window
// closes at the next disturbance, at any other jump or movement of N, at the start
// of a window of wanted import or export, at t0 + 2 x Within, or at the end of the
// run.
//
// A movement is one of N + L by more than BandW / 2 since the last disturbance or
// movement, where L is what batteries had to let go (forced): a
// blunt cloud, a battery that is empty so that others must take over. Nothing can settle before what
// it answers to does: where there is movement while a window lies outside the band
// and Within has not passed, the disturbance goes on, and the clock starts anew.
//
// A jump that nobody declared, such as an oven's thermostat or an event that
// disturbs nothing by the scenario's own word, opens no window: the scenario's
// author derived Within from the disturbances that the scenario names, and not
// from what happens to come. It ends the window that is open, since what follows
// answers to it, and is counted apart.
//
// The settling time is the time from t0 to the first sample after the last one
// with |r| > BandW (the definition of python-control's step_info), and
//
//	margin = Within - max over windows of the settling time
//
// A window that still lies outside the band when it closes has settled no
// earlier than one step later, which is a lower bound. If it closes like that
// before Within has passed it is censored: it says nothing, and is counted
// apart. A window that declares a disturbance of which neither N nor r shows
// anything has no effect and is counted apart too.
//
// Overshoot is the largest residual of the sign opposite to the first one outside
// the band, rise the time from t0 to the first sample that is back in the band; of
// the windows that were judged
//
//	margin = OvershootW - max over windows of the overshoot
//
// Exercised counts the windows that were judged.
//
// Not judged: jumps that nobody declared; excursions later than 2 x Within after a disturbance without a new
// one (hunting looks there), and disturbances during wanted import or export.
type settle struct {
	p Settle
	timeline
	jump    slidingRange
	merge   int64
	within  int64
	forced  forced
	low     float64 // the range of what must be answered, since the last disturbance or movement
	high    float64
	open    bool
	stray   int64 // the last jump that nobody declared; 0 when there was none
	current settleWindow
	worst   settleWindow
	tally   settleTally
}

// settleWindow is what is known of the time after one disturbance, in ticks.
type settleWindow struct {
	opened   int64 // the disturbed step
	event    int64 // the last step that belongs to the same disturbance
	last     int64 // the last sample seen
	outside  int64 // the last sample outside the band; 0 when there was none
	returned int64 // the first sample back in the band; 0 when there was none
	everOut  bool
	shown    bool // the net load has jumped, or the band was left before
	sign     float64
	overW    float64
	residual float64
}

// settledTicks is the settling time in steps.
func (w *settleWindow) settledTicks() int64 {
	if !w.everOut {
		return 0
	}
	return w.outside + 2 - w.opened
}

// riseTicks is the time to the first return into the band, in steps.
func (w *settleWindow) riseTicks() int64 {
	if w.returned == 0 {
		return 0
	}
	return w.returned + 1 - w.opened
}

func (w *settleWindow) elapsed() int64 { return w.last + 1 - w.opened }

func (w *settleWindow) inside() bool { return !w.everOut || w.outside < w.last }

// settleTally counts windows by what became of them.
type settleTally struct {
	judged, failed, censored, noEffect, wanted, undeclared int
	firstFailed                                            int64
	overshootW                                             float64
	overshootOf                                            int64 // when the window of that opened
	firstOver                                              int64 // when the first window opened that went too far; 0 is never
}

// NewSettle watches how fast the grid flow settles after disturbances.
func NewSettle(p Settle, step time.Duration) (Monitor, error) {
	line, err := newTimeline(step)
	if err != nil {
		return nil, err
	}
	if err := wantPositive("settle", "band", p.BandW); err != nil {
		return nil, err
	}
	if err := wantDuration("settle", "within", p.Within, step); err != nil {
		return nil, err
	}
	if p.OvershootW != nil {
		if err := wantNotNegative("settle", "overshoot", *p.OvershootW); err != nil {
			return nil, err
		}
	}
	return &settle{
		p: p, timeline: line, jump: newSlidingRange(line.samples(jumpWithin)),
		low: math.Inf(1), high: math.Inf(-1), merge: max(1, line.ticks(jumpWithin)), within: line.ticks(p.Within),
	}, nil
}

func (m *settle) Name() string { return "settle" }

func (m *settle) Observe(s *Sample) {
	r := s.GridW - s.leastFlowW()
	if !m.accept(s, r) {
		return
	}
	m.jump.push(s.NetLoadW)
	jumped := m.jump.span() > m.p.BandW
	if jumped {
		// The same jump stays in view for a second: forget what was before it.
		m.jump.reset()
		m.jump.push(s.NetLoadW)
	}
	declared := s.Disturbed || jumped && s.Unfolding
	moved := m.moved(s.NetLoadW+m.forced.see(s), declared)
	switch {
	case s.ImportWanted || s.ExportWanted:
		m.close()
		if declared {
			m.tally.wanted++
		}
	case declared, (jumped || moved) && m.goesOn(s.Tick):
		m.disturb(s.Tick, jumped)
	case jumped:
		m.close()
		if m.stray == 0 || s.Tick-m.stray > m.merge {
			m.tally.undeclared++
		}
		m.stray = s.Tick
	case moved && m.open && !m.current.inside() && m.current.elapsed() < m.within:
		m.current = settleWindow{opened: s.Tick, event: s.Tick, shown: true}
	case moved && s.Unfolding:
		m.disturb(s.Tick, false)
	case moved:
		m.close()
	}
	if !m.open {
		return
	}
	m.current.see(s.Tick, r, m.p.BandW)
	if m.current.elapsed() >= 2*m.within {
		m.close()
	}
}

// moved says whether what must be answered has left half the band since it was last
// asked to begin anew.
func (m *settle) moved(w float64, begin bool) bool {
	m.low, m.high = min(m.low, w), max(m.high, w)
	moved := m.high-m.low > m.p.BandW/2
	if moved || begin {
		m.low, m.high = w, w
	}
	return moved
}

// goesOn says whether what happens now belongs to the disturbance of the open window.
func (m *settle) goesOn(tick int64) bool { return m.open && tick-m.current.event <= m.merge }

// disturb opens a window, or moves the start of one whose disturbance goes on.
func (m *settle) disturb(tick int64, jumped bool) {
	if m.goesOn(tick) {
		jumped = jumped || m.current.shown
	} else {
		m.close()
	}
	m.open = true
	m.current = settleWindow{opened: tick, event: tick, shown: jumped}
}

// see takes one residual into the window.
func (w *settleWindow) see(tick int64, r, bandW float64) {
	w.last, w.residual = tick, r
	if r > bandW || r < -bandW {
		if !w.everOut {
			w.everOut, w.sign = true, 1
			if r < 0 {
				w.sign = -1
			}
		}
		w.outside = tick
	} else if w.everOut && w.returned == 0 {
		w.returned = tick
	}
	if w.everOut {
		w.overW = max(w.overW, -w.sign*r)
	}
}

func (m *settle) close() {
	if m.open {
		m.worst, m.tally = m.judge(&m.current)
		m.open = false
	}
}

// judge says what the worst window and the tally are once w is closed.
func (m *settle) judge(w *settleWindow) (settleWindow, settleTally) {
	worst, tally := m.worst, m.tally
	switch {
	case !w.inside() && w.elapsed() < m.within:
		tally.censored++
	case !w.everOut && !w.shown:
		tally.noEffect++
	default:
		tally.judged++
		if w.overW > tally.overshootW {
			tally.overshootW, tally.overshootOf = w.overW, w.opened
		}
		if p := m.p.OvershootW; p != nil && w.overW > *p+roundingW && tally.firstOver == 0 {
			tally.firstOver = w.opened
		}
		if w.settledTicks() > m.within {
			tally.failed++
			if tally.failed == 1 {
				tally.firstFailed = w.opened
			}
		}
		if tally.judged == 1 || w.settledTicks() > worst.settledTicks() {
			worst = *w
		}
	}
	return worst, tally
}

func (m *settle) Breach() int64 {
	first := earliest(m.tally.firstFailed, m.tally.firstOver)
	if first == 0 && m.open && m.current.settledTicks() > m.within {
		return m.current.opened
	}
	return first
}

func (m *settle) Result() Result {
	worst, tally := m.worst, m.tally
	if m.open {
		worst, tally = m.judge(&m.current)
	}
	level := ClauseResult{
		Name: "settling_time", Formula: "within - max over disturbances of (last time outside the band - time of the disturbance)",
		Status: NotExercised, Unit: "s",
	}
	if tally.judged > 0 {
		level = clause(level.Name, level.Formula,
			m.at(worst.settledTicks()), m.p.Within.Seconds(), 1e-6*m.stepS, "s", m.at(worst.opened-1))
	}
	otherwise := NotExercised
	if tally.censored > 0 {
		otherwise = Undetermined
	}
	clauses := []ClauseResult{level}
	if m.p.OvershootW != nil {
		over := idle("overshoot", "overshoot - max over disturbances of the largest residual of the other sign than the first one", "W")
		if tally.judged > 0 {
			over = clause(over.Name, over.Formula, tally.overshootW, *m.p.OvershootW, roundingW, "W", m.at(max(0, tally.overshootOf-1)))
		}
		clauses = append(clauses, over)
	}
	r := conclude("settle", tally.judged, otherwise, clauses...)
	if r.Status == Failed {
		r.FirstBreachS = m.at(earliest(tally.firstFailed, tally.firstOver) - 1)
		r.Avoidable = true
	}
	r.Figures = []Figure{
		{"overshoot", tally.overshootW, "W"},
		{"rise", m.at(worst.riseTicks()), "s"},
		{"failed", float64(tally.failed), ""},
		{"censored", float64(tally.censored), ""},
		{"no_effect", float64(tally.noEffect), ""},
		{"wanted", float64(tally.wanted), ""},
		{"undeclared", float64(tally.undeclared), ""},
	}
	if tally.judged > 0 {
		m.describe(&r, worst)
	}
	tally.tell(&r)
	return m.blame(r)
}

// tell says in plain words what became of the disturbances.
func (t *settleTally) tell(r *Result) {
	if t.judged == 0 {
		r.note("no disturbance was judged")
	} else {
		r.note("%s judged, %d too slow", counted(t.judged, "disturbance", "disturbances"), t.failed)
	}
	if t.censored > 0 {
		r.note("%d not judged, since the next change or the end came before it could settle", t.censored)
	}
	if t.noEffect > 0 {
		r.note("%d not judged, since grid flow never left the band", t.noEffect)
	}
	if t.wanted > 0 {
		r.note("%d not judged, since import or export was wanted", t.wanted)
	}
	if t.undeclared > 0 {
		r.note("%s of the net load not judged, since no event of the scenario declares a disturbance there",
			counted(t.undeclared, "other jump", "other jumps"))
	}
}

// describe tells of the worst window.
func (m *settle) describe(r *Result, w settleWindow) {
	if w.inside() {
		r.note("worst after %s: settled in %.1f s, overshoot %.0f W",
			moment(m.at(w.opened-1)), m.at(w.settledTicks()), w.overW)
		return
	}
	r.note("worst after %s: still %.0f W off after %.1f s, overshoot %.0f W",
		moment(m.at(w.opened-1)), w.residual, m.at(w.elapsed()), w.overW)
}

package criteria

import (
	"math"
	"time"
)

// Hunting asks that the batteries do not keep swinging on their own.
type Hunting struct {
	// BelowW is the bound on the amplitude, half of peak to peak, in W.
	BelowW float64
	// GoneWithin is how long after the last disturbance an oscillation may live.
	GoneWithin time.Duration
}

const (
	// calmWithin is the time over which the net load must stay within half of
	// BelowW to count as calm: about the lag of a controller that polls every
	// 10 s, so that what a calm net load makes such a controller do stays under
	// BelowW.
	calmWithin = 20 * time.Second
	// leastStretch is the shortest time over which four swings are looked for,
	// and the shortest calm time that says something when none are found.
	leastStretch = time.Minute
	// rungs is the number of hysteresis levels, half an octave apart, from a
	// quarter of the bound (2 x BelowW peak to peak) upwards.
	rungs, rungsBelow = 12, 4
)

// hunting judges what the batteries add, P = G - N (grid flow minus net load,
// which is the inverters' AC power together), and only while nothing outside
// moves them: an oven's thermostat makes the grid flow periodic and is nobody's
// fault.
//
// A step is disturbed when the scenario declares it, or when N + L has ranged over
// more than BelowW / 2 in the 20 s up to it, where L is what batteries had to let
// go (forced); slower drift, such as a clear sky's, is calm. The start of the run is a disturbance. A step is judged when
// GoneWithin has passed since the last disturbed step; successive judged steps
// are a quiet interval. With S = max(60 s, GoneWithin), the amplitude of an
// interval is the largest a for which there are five of its steps, n0 < n1 < n2
// < n3 < n4 with n4 - n0 <= S, at which P alternates by at least 2a more than what
// a calm net load may make a sound controller do:
//
//	a = max over (n0..n4) of min over k of (s (-1)^k (P[n(k+1)] - P[nk]) - Ms D) / 2, s = +1 or -1
//
// where D is the largest range of N + L within any 20 s of the interval up to n4,
// and Ms = 3 how much a controller may amplify it (spectralExcess):
//
//	margin = BelowW - max over quiet intervals of a
//
// Two periods are the least that tells an oscillation from a correction and its
// undoing. The points are found by turning-point trackers with hysteresis on a
// ladder of levels: one level alone would take the ripple on a large slow swing
// for its amplitude. One rung lies at 2 x BelowW. Without the limit S
// the verdict is exact, and Observed is at most half an octave under a for a
// between BelowW / 4 and 11 x BelowW; smaller swings read as 0. With S it may
// miss an oscillation whose four swings only just fit into S, and never invents
// one.
//
// Exercised counts the quiet intervals in which judging lasted a minute or more,
// in a run in which the batteries carried at least BelowW / 2 at some time:
// batteries that never work do not hunt. Without any the status is undetermined
// when the run was disturbed after its start, else not_exercised.
//
// While loads keep moving a second clause looks at the spectra (spectralExcess):
//
//	margin = max(100 W, BelowW) - the largest persistent excess that is not decided
//
// It raises suspicion and no more, since a controller that samples a fast load too
// slowly shows the same without hunting. Only the ring-down of the first clause
// decides: a quiet interval, at its time or later, that is judged for a minute and
// for three of the suspected periods while the batteries work; there the amplitude
// says whether they hunt. A suspicion that is never decided makes the status undetermined, and never failed.
//
// Limits of the method. The first clause says nothing while loads keep moving by more than
// BelowW / 2; nothing about oscillation with periods above about S / 2, or under
// two steps; nothing about a controller that hunts together with a
// surplus-following charger, since that moves the net load. A net load that
// moves within the calm bound passes to P, with the controller's overshoot, and
// counts in full: it needs an overshoot of more than the movement itself, four
// times in a row, to reach BelowW. It is blind to two batteries that swing
// against each other and leave the sum alone; circulating looks there.
type hunting struct {
	p Hunting
	timeline
	calm    slidingRange
	forced  forced
	gone    int64
	stretch int64
	least   int64

	disturbedAt int64
	activity    bool
	worked      bool
	interval    int64   // judged steps of the present quiet interval
	answered    float64 // the most that the net load ranged over within 20 s of it
	longest     int64
	exercised   int

	excess         spectralExcess
	suspicion      suspicion
	suspicions     int  // blocks that raised suspicion
	decided        int  // suspicions that a quiet interval confirmed or cleared
	intervalWorked bool // the batteries carried something in the present quiet interval

	ladder     [rungs]zigzag
	low, high  float64 // between these no rung does anything
	amplitudeW float64
	from, to   int64 // the four swings of the worst amplitude
	periodS    float64
	breached   bool
	breachTick int64
}

// suspicion is the largest persistent excess that is not decided.
type suspicion struct {
	amplitudeW float64
	periodS    float64
	tick       int64 // the end of the last of its blocks
	raised     bool  // it is above what is suspicious
}

// NewHunting watches for oscillation that the batteries keep up by themselves.
func NewHunting(p Hunting, step time.Duration) (Monitor, error) {
	line, err := newTimeline(step)
	if err != nil {
		return nil, err
	}
	if err := wantPositive("hunting", "below", p.BelowW); err != nil {
		return nil, err
	}
	if err := wantDuration("hunting", "gone_within", p.GoneWithin, step); err != nil {
		return nil, err
	}
	m := &hunting{
		p: p, timeline: line, calm: newSlidingRange(line.samples(calmWithin)),
		gone: line.ticks(p.GoneWithin), stretch: line.ticks(max(leastStretch, p.GoneWithin)),
		least: line.ticks(leastStretch), forced: forced{once: true}, excess: newSpectralExcess(&line),
	}
	// The middle rung lies a hair above the bound, so that it holds no swings that
	// just equal the bound and would hide the larger ones that exceed it.
	middle := 2 * (p.BelowW + 2*roundingW)
	for k := range m.ladder {
		m.ladder[k].hysteresis = middle * halfOctaves(k-rungsBelow)
		m.ladder[k].reset()
	}
	return m, nil
}

// halfOctaves is 2^(k/2). math.Exp2 is assembly on some processors and need not
// agree to the last digit.
func halfOctaves(k int) float64 {
	octaves := k >> 1
	if k&1 == 1 {
		return math.Ldexp(math.Sqrt2, octaves)
	}
	return math.Ldexp(1, octaves)
}

func (m *hunting) Name() string { return "hunting" }

func (m *hunting) Observe(s *Sample) {
	p := s.GridW - s.NetLoadW
	begins := !m.begun
	if !m.accept(s, p) {
		return
	}
	m.worked = m.worked || math.Abs(p) >= m.p.BelowW/2
	if m.excess.observe(s.GridW, s.NetLoadW) {
		m.suspect()
	}
	m.calm.push(s.NetLoadW + m.forced.see(s))
	if begins || s.Disturbed || m.calm.span() > m.p.BelowW/2 {
		m.activity = m.activity || !begins
		m.disturbedAt = s.Tick
		m.endInterval()
		return
	}
	if s.Tick-m.disturbedAt < m.gone {
		return
	}
	m.interval++
	m.answered = max(m.answered, m.calm.span())
	m.longest = max(m.longest, m.interval)
	if m.interval == m.least {
		m.exercised++
	}
	m.intervalWorked = m.intervalWorked || math.Abs(p) >= m.p.BelowW/2
	if !(p > m.low && p < m.high) {
		m.climb(s.Tick, p)
	}
	if m.suspicion.raised && m.intervalWorked && m.interval >= m.least && m.at(m.interval) >= 3*m.suspicion.periodS {
		m.suspicion = suspicion{}
		m.decided++
	}
}

// climb shows a power to every rung.
func (m *hunting) climb(tick int64, p float64) {
	m.low, m.high = math.Inf(-1), math.Inf(1)
	for k := range m.ladder {
		z := &m.ladder[k]
		if z.observe(tick, p) {
			m.measure(z)
		}
		low, high := z.still()
		m.low, m.high = max(m.low, low), min(m.high, high)
	}
}

// suspect takes what the spectra of the last blocks show into account.
func (m *hunting) suspect() {
	e := &m.excess
	raised := e.persistentW > m.suspiciousW()
	if raised {
		m.suspicions++
	}
	if e.persistentW > m.suspicion.amplitudeW {
		m.suspicion = suspicion{amplitudeW: e.persistentW, periodS: e.periodS, tick: m.last, raised: raised}
	}
}

func (m *hunting) suspiciousW() float64 { return max(suspiciousW, m.p.BelowW) }

// endInterval forgets the swings of a quiet interval.
func (m *hunting) endInterval() {
	if m.interval == 0 {
		return
	}
	m.interval, m.intervalWorked, m.answered = 0, false, 0
	for k := range m.ladder {
		m.ladder[k].reset()
	}
	m.low, m.high = 0, 0
}

// measure takes the last four swings of one rung into account.
func (m *hunting) measure(z *zigzag) {
	from, lastTurn, swing, ok := z.fourSwings()
	if !ok || z.tip.tick-from > m.stretch {
		return
	}
	a := (swing - sensitivity*m.answered) / 2
	if a > m.amplitudeW {
		m.amplitudeW, m.from, m.to = a, from, z.tip.tick
		// The first three swings end in known turns: one and a half periods.
		m.periodS = m.at(lastTurn-from) / 1.5
	}
	if a > m.p.BelowW+roundingW && !m.breached {
		m.breached, m.breachTick = true, from
	}
}

func (m *hunting) Breach() int64 { return m.breachTick }

func (m *hunting) Result() Result {
	level := ClauseResult{
		Name: "amplitude", Formula: "below - max over quiet intervals of the amplitude that four successive swings reach",
		Status: NotExercised, Unit: "W",
	}
	if m.longest > 0 {
		level = clause(level.Name, level.Formula, m.amplitudeW, m.p.BelowW, roundingW, "W", m.at(m.from))
	}
	exercised, otherwise := m.exercised, NotExercised
	if !m.worked {
		exercised = 0
	} else if exercised == 0 && (m.activity || m.suspicion.raised) {
		otherwise = Undetermined
	}
	r := conclude("hunting", exercised, otherwise, level, m.suspicionClause())
	if m.breached {
		r.FirstBreachS = m.at(m.breachTick)
		r.Avoidable = true
	}
	r.Figures = []Figure{
		{"longest_quiet", m.at(m.longest), "s"},
		{"period", m.periodS, "s"},
		{"suspicion", m.suspicion.amplitudeW, "W"},
		{"suspected_period", m.suspicion.periodS, "s"},
		{"suspected_until", m.suspectedUntil(), "s"},
		{"suspicious_blocks", float64(m.suspicions), ""},
		{"suspicions_decided", float64(m.decided), ""},
	}
	if m.amplitudeW > 0 {
		r.note("four swings of %.0f W peak to peak or more from %s to %s, period about %.1f s",
			2*m.amplitudeW, moment(m.at(m.from)), moment(m.at(m.to)), m.periodS)
	}
	if m.suspicion.raised {
		r.note("suspicion: from %s to %s the grid flow swings by itself, with an amplitude of %.0f W and a period of about %.1f s, and no quiet time came to confirm or clear it",
			moment(m.at(max(m.first-1, m.suspicion.tick-m.excess.span()))), moment(m.at(m.suspicion.tick)), m.suspicion.amplitudeW, m.suspicion.periodS)
	}
	switch {
	case !m.worked:
		r.note("the batteries never carried %.0f W", m.p.BelowW/2)
	case exercised == 0:
		r.note("the longest quiet interval was judged for %.1f s, and %.0f s are needed", m.at(m.longest), leastStretch.Seconds())
	}
	return m.blame(r)
}

// suspectedUntil is the end of the time in which an undecided suspicion was raised,
// in seconds; 0 is none.
func (m *hunting) suspectedUntil() float64 {
	if !m.suspicion.raised {
		return 0
	}
	return m.at(m.suspicion.tick)
}

// suspicionClause judges the spectra; a suspicion is undetermined and not failed.
func (m *hunting) suspicionClause() ClauseResult {
	c := idle("spectral_excess", "max(100 W, below) - largest excess of the grid flow's spectrum over 3 times the net load's that lasts three blocks and that no quiet time decided", "W")
	if m.excess.blocks < successive {
		return c
	}
	c = clause(c.Name, c.Formula, m.suspicion.amplitudeW, m.suspiciousW(), roundingW, "W",
		m.at(max(m.first-1, m.suspicion.tick-m.excess.span())))
	if c.Status == Failed {
		c.Status = Undetermined
	}
	return c
}

package criteria

import (
	"fmt"
	"math"
	"time"
)

// SOCSpread bounds how far apart the batteries' states of charge may lie.
type SOCSpread struct {
	// Below is the bound as a fraction, above 0 and at most 1.
	Below float64
	// From is how long after the start judging begins, so that batteries which
	// start apart have time to meet.
	From time.Duration
	// Names are what the batteries are called, in the samples' order; for Detail.
	Names []string
}

// socSpread judges, over all samples from From on,
//
//	margin = 100 x (Below - max over n of (max over i of SOC_i[n] - min over i of SOC_i[n]))
//
// in percentage points. Exercised counts the samples judged; one battery alone
// has no spread and exercises nothing. A battery counts as ahead from when it is
// the fullest with a spread of more than half of Below. A failure was avoidable when
// the worst spread is more than the least that could have been reached (narrowing).
type socSpread struct {
	p SOCSpread
	timeline
	from       int64
	worst      float64
	worstTick  int64
	exercised  int
	breached   bool
	breachTick int64
	lastSpread float64
	least      narrowing
	avoidable  bool // the worst was more than the least that could have been reached

	ahead           int // the battery that is the fullest by half the bound, or -1
	aheadFrom       int64
	fullest, lowest int // at the worst time
	worstAhead      bool
	worstFrom       int64
}

// socRounding forgives the last digits of a state of charge, in percentage points.
const socRounding = 1e-9

// NewSOCSpread watches the spread of the true states of charge.
func NewSOCSpread(p SOCSpread, step time.Duration) (Monitor, error) {
	line, err := newTimeline(step)
	if err != nil {
		return nil, err
	}
	if err := wantFraction("soc_spread", "below", p.Below); err != nil {
		return nil, err
	}
	if p.From < 0 {
		return nil, fmt.Errorf("soc_spread: from is %v, but must not be negative", p.From)
	}
	return &socSpread{p: p, timeline: line, from: line.ticks(p.From), worst: math.Inf(-1), ahead: -1}, nil
}

func (m *socSpread) Name() string { return "soc_spread" }

func (m *socSpread) Observe(s *Sample) {
	if len(s.Inverters) == 0 {
		m.accept(s, 0)
		return
	}
	fullest, lowest := 0, 0
	for i := range s.Inverters {
		if s.Inverters[i].SOC > s.Inverters[fullest].SOC {
			fullest = i
		}
		if s.Inverters[i].SOC < s.Inverters[lowest].SOC {
			lowest = i
		}
	}
	spread := s.Inverters[fullest].SOC - s.Inverters[lowest].SOC
	m.least.step(s, fullest, lowest)
	m.follow(s.Tick, fullest, spread)
	if !m.accept(s, spread) || len(s.Inverters) < 2 || s.Tick < m.from {
		return
	}
	m.exercised++
	m.lastSpread = spread
	if spread > m.worst {
		m.worst, m.worstTick, m.avoidable = spread, s.Tick, spread > m.least.spread
		m.fullest, m.lowest, m.worstAhead, m.worstFrom = fullest, lowest, m.ahead >= 0, m.aheadFrom
	}
	if !m.breached && 100*(spread-m.p.Below) > socRounding {
		m.breached, m.breachTick = true, s.Tick
	}
}

// follow keeps since when the fullest battery is ahead.
func (m *socSpread) follow(tick int64, fullest int, spread float64) {
	switch {
	case !(spread > m.p.Below/2):
		m.ahead = -1
	case m.ahead != fullest:
		m.ahead, m.aheadFrom = fullest, tick
	}
}

func (m *socSpread) Breach() int64 { return m.breachTick }

func (m *socSpread) Result() Result {
	level := ClauseResult{
		Name: "spread", Formula: "below - max over time of (max SOC - min SOC)",
		Status: NotExercised, Unit: "%",
	}
	if m.exercised > 0 {
		level = clause(level.Name, level.Formula, float64(100*m.worst), float64(100*m.p.Below), socRounding, "%", m.at(m.worstTick))
	}
	r := conclude("soc_spread", m.exercised, NotExercised, level)
	if m.breached {
		r.FirstBreachS = m.at(m.breachTick)
		r.Avoidable = m.avoidable
	}
	r.Figures = []Figure{{"last_spread", 100 * m.lastSpread, "%"}}
	if m.exercised > 0 && m.worst > 0 {
		since := ""
		if m.worstAhead {
			since = fmt.Sprintf(", by more than %.3g %% since %s", 50*m.p.Below, moment(m.at(m.worstFrom)))
		}
		r.note("%s is %.3g %% fuller than %s%s", nameOf(m.p.Names, m.fullest), 100*m.worst, nameOf(m.p.Names, m.lowest), since)
	}
	return m.blame(r)
}

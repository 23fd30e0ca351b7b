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
}

// socSpread judges, over all samples from From on,
//
//	margin = 100 x (Below - max over n of (max over i of SOC_i[n] - min over i of SOC_i[n]))
//
// in percentage points. Exercised counts the samples judged; one battery alone
// has no spread and exercises nothing.
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
	return &socSpread{p: p, timeline: line, from: line.ticks(p.From), worst: math.Inf(-1)}, nil
}

func (m *socSpread) Name() string { return "soc_spread" }

func (m *socSpread) Observe(s *Sample) {
	if len(s.Inverters) == 0 {
		m.accept(s, 0)
		return
	}
	low, high := s.Inverters[0].SOC, s.Inverters[0].SOC
	for i := range s.Inverters {
		low = min(low, s.Inverters[i].SOC)
		high = max(high, s.Inverters[i].SOC)
	}
	spread := high - low
	if !m.accept(s, spread) || len(s.Inverters) < 2 || s.Tick < m.from {
		return
	}
	m.exercised++
	m.lastSpread = spread
	if spread > m.worst {
		m.worst, m.worstTick = spread, s.Tick
	}
	if !m.breached && 100*(spread-m.p.Below) > socRounding {
		m.breached, m.breachTick = true, s.Tick
	}
}

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
	}
	r.Figures = []Figure{{"last_spread", 100 * m.lastSpread, "%"}}
	return m.blame(r)
}

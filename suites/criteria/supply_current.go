package criteria

import (
	"math"
	"time"
)

// SupplyCurrent asks that no phase of the supply carries more than its fuse is
// rated for.
type SupplyCurrent struct {
	// BelowA is the bound in A; 0 stands for the fuse's rating in the samples.
	BelowA float64
	// Except is how long an excess may last.
	Except time.Duration
}

// roundingA is far below what an ammeter could see.
const roundingA = 1e-9

// mostPhases is how many phase conductors a supply has at most.
const mostPhases = 3

// supplyCurrent judges the current I_p of each phase p against
//
//	L_p[n] = max(BelowA, the least current that the batteries could have made of it)
//
// and with K = floor(Except / step) + 1
//
//	margin = min over p and n of max over j < K of (L_p[n-j] - I_p[n-j])
//
// in A. Each phase is judged by itself: a fuse does not see the others. The flow
// of all phases together may be small while one is overloaded, which is why
// import does not stand in for this.
//
// Exercised counts, over all phases, the windows that the batteries could have
// violated: in each of their samples max(I, the most that they could have made of
// it) > L.
type supplyCurrent struct {
	p SupplyCurrent
	timeline
	phases      []sustained
	unavoidable int64

	worstA    float64
	vehicleW  float64 // what the charger drew when the worst phase was at its worst
	worstTick int64
}

// NewSupplyCurrent watches the current of each phase of the supply.
func NewSupplyCurrent(p SupplyCurrent, step time.Duration) (Monitor, error) {
	line, err := newTimeline(step)
	if err != nil {
		return nil, err
	}
	if err := wantNotNegative("supply_current", "below", p.BelowA); err != nil {
		return nil, err
	}
	if err := wantDuration("supply_current", "except", p.Except, 0); err != nil {
		return nil, err
	}
	m := &supplyCurrent{p: p, timeline: line, phases: make([]sustained, mostPhases)}
	for i := range m.phases {
		m.phases[i] = newSustained(line.samples(p.Except))
	}
	return m, nil
}

func (m *supplyCurrent) Name() string { return "supply_current" }

func (m *supplyCurrent) Observe(s *Sample) {
	if !m.accept(s, soundPhases(s)) {
		return
	}
	below := m.p.BelowA
	if below == 0 {
		below = s.FuseA
	}
	if below == 0 {
		return
	}
	forced := false
	for i := range s.Phases {
		p := &s.Phases[i]
		limit := max(below, p.LeastA)
		forced = forced || limit > below
		excess := p.CurrentA - limit
		if excess > m.worstA || m.worstTick == 0 {
			m.worstA, m.worstTick, m.vehicleW = excess, s.Tick, 0
			if s.VehicleCharging {
				m.vehicleW = s.ChargerW
			}
		}
		m.phases[i].push(s.Tick, excess, limit, roundingA, max(p.CurrentA, p.MostA) > limit)
	}
	if forced {
		m.unavoidable++
	}
}

// soundPhases is finite when the currents are, and no more phases than a supply
// has.
func soundPhases(s *Sample) float64 {
	if len(s.Phases) > mostPhases {
		return nan
	}
	total := math.Abs(s.FuseA)
	for i := range s.Phases {
		p := &s.Phases[i]
		total += math.Abs(p.CurrentA) + (math.Abs(p.LeastA) + math.Abs(p.MostA))
	}
	return total
}

func (m *supplyCurrent) Breach() int64 {
	_, first, _ := worstOf(m.phases)
	return first
}

func (m *supplyCurrent) Result() Result {
	level := idle("level", "min over phases and windows of max over the window of (max(below, unavoidable) - current)", "A")
	worst, first, exercised := worstOf(m.phases)
	w := &m.phases[worst]
	if w.judged() {
		level = clause(level.Name, level.Formula, w.worst.with+w.worst.value, w.worst.with, roundingA, "A", m.at(w.worstStart))
	}
	r := conclude("supply_current", exercised, NotExercised, level)
	if first != 0 {
		r.FirstBreachS = m.at(first)
		r.Avoidable = true
	}
	r.Figures = []Figure{
		{"worst_phase", float64(worst + 1), ""},
		{"unavoidable", m.at(m.unavoidable), "s"},
	}
	if w.judged() {
		r.note("phase L%d carried %.1f A", worst+1, w.worst.with+w.worst.value)
	}
	if r.Status == Failed && m.vehicleW > 0 {
		r.note("a vehicle took %.0f W when the excess was largest, at %s", m.vehicleW, moment(m.at(m.worstTick)))
	}
	if m.unavoidable > 0 {
		r.note("for %.1f s no controller could have kept it", m.at(m.unavoidable))
	}
	return m.blame(r)
}

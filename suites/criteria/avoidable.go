package criteria

import (
	"math"
	"time"
)

// AvoidableEnergy bounds the energy that crossed the inlet though the batteries
// could have kept it inside.
type AvoidableEnergy struct {
	// BelowWh is the allowance in Wh over the whole run, at least zero.
	BelowWh float64
}

// avoidable is the engine of avoidable_import and avoidable_export. In its own
// direction (import positive for import, export positive for export) let
//
//	F[n] = max(0, the flow)
//	U[n] = max(0, the flow that remains when the batteries do all that they can
//	       to bring it to zero)
//	E[n] = sum over m <= n of max(0, F[m] - U[m]) x step
//
// over the steps in which that direction is not wanted. The flow at the end of a
// step stands for the whole step.
//
//	margin = BelowWh - E at the end
//
// Each step is judged by what the batteries could do at that instant, in the state
// in which the controller had brought them: energy that is missing now because
// the batteries were emptied before is not counted. The allowance is for what the
// meters' lag and a controller's poll cost.
//
// Exercised counts the steps that the batteries could have spoilt or saved: the
// direction was not wanted, and the net load alone would have flowed that way
// while they had room to take it, or more flowed than had to.
type avoidable struct {
	name      string
	direction float64
	p         AvoidableEnergy
	timeline

	energy    sum
	flowed    sum // all that crossed in this direction, wanted or not
	exercised int
	most      float64 // the largest avoidable power, and when
	mostTick  int64
	spent     int64 // when the allowance was used up; 0 is never
}

// NewAvoidableImport watches for import that discharging could have covered.
func NewAvoidableImport(p AvoidableEnergy, step time.Duration) (Monitor, error) {
	return newAvoidable("avoidable_import", 1, p, step)
}

// NewAvoidableExport watches for export that charging could have taken up.
func NewAvoidableExport(p AvoidableEnergy, step time.Duration) (Monitor, error) {
	return newAvoidable("avoidable_export", -1, p, step)
}

func newAvoidable(name string, direction float64, p AvoidableEnergy, step time.Duration) (Monitor, error) {
	line, err := newTimeline(step)
	if err != nil {
		return nil, err
	}
	if err := wantNotNegative(name, "below", p.BelowWh); err != nil {
		return nil, err
	}
	return &avoidable{name: name, direction: direction, p: p, timeline: line}, nil
}

func (m *avoidable) Name() string { return m.name }

func (m *avoidable) Observe(s *Sample) {
	flow, least := m.direction*s.GridW, m.direction*s.leastFlowW()
	if !m.accept(s, math.Abs(flow)+math.Abs(least)) {
		return
	}
	if flow > 0 {
		m.flowed.wattHours(flow, m.stepS)
	}
	if m.direction > 0 && s.ImportWanted || m.direction < 0 && s.ExportWanted {
		return
	}
	least = max(0, least)
	excess := flow - least
	if excess > roundingW || m.direction*s.NetLoadW-least > roundingW {
		m.exercised++
	}
	if excess <= roundingW {
		return
	}
	m.energy.wattHours(excess, m.stepS)
	if excess > m.most {
		m.most, m.mostTick = excess, m.last
	}
	if m.spent == 0 && m.energy.value() > m.p.BelowWh+energyRounding {
		m.spent = m.last
	}
}

// energyRounding forgives the last digits of a sum, in Wh.
const energyRounding = 1e-9

func (m *avoidable) Breach() int64 { return m.spent }

func (m *avoidable) Result() Result {
	at := m.mostTick
	if m.spent != 0 {
		at = m.spent
	}
	r := conclude(m.name, m.exercised, NotExercised, clause("energy",
		"below - sum over time of max(0, flow - max(0, flow left over by batteries doing their best)) x step",
		m.energy.value(), m.p.BelowWh, energyRounding, "Wh", m.at(at)))
	if r.Status == Failed {
		r.FirstBreachS = m.at(m.spent)
		r.Avoidable = true
	}
	r.Figures = []Figure{
		{"flowed", m.flowed.value(), "Wh"},
		{"most", m.most, "W"},
	}
	if m.energy.value() > 0 {
		r.note("%.1f Wh of %.1f Wh could have been avoided, most at %s: %.0f W",
			m.energy.value(), m.flowed.value(), moment(m.at(m.mostTick)), m.most)
	}
	return m.blame(r)
}

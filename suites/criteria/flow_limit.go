package criteria

import "time"

// FlowLimit bounds the flow at the inlet in one direction.
type FlowLimit struct {
	// BelowW is the bound in W, at least zero.
	BelowW float64
	// Except is how long an excess may last.
	Except time.Duration
	// EnergyWh, when given, bounds the excess energy over the whole run.
	EnergyWh *float64
}

// flowLimit is the engine of import and export. In its own direction (import
// positive for import, export positive for export) let
//
//	F[n] = the flow
//	N[n] = the net load's flow, batteries at rest
//	R[n] = the room with which the batteries could lower the flow
//	       (discharge room for import, charge room for export), of those that
//	       have enough left above their reserve, or up to full, for all of Except
//	S[n] = the room with which they could raise it
//	L[n] = max(BelowW, N[n] - R[n]), the lowest bound that can be kept
//
// Level: with K = floor(Except / step) + 1,
//
//	margin = min over n of max over j < K of (L[n-j] - F[n-j])
//
// which is the limit minus the largest minimum of the flow over any window of
// that length, with the limit raised where no controller could have kept it.
// Observed and Limit are F and L at the sample of the worst window that binds,
// so Limit - Observed is the margin. Where L is above BelowW, an excess of up to 1 W
// counts as none: an inverter with a lag comes ever closer to its room and never
// arrives.
//
// Energy: margin = EnergyWh - sum over n of max(0, F[n] - L[n]) x step, the flow
// at the end of a step standing for the whole step.
//
// Exercised counts the windows that the batteries could have violated: in each
// of their samples max(F, N + S) > L. A window in which even full charging stays
// under an import bound tests nothing, nor does one in which the batteries have
// no room at all.
//
// The bounds hold in windows of wanted import or export too: a fuse does not
// know about intentions.
type flowLimit struct {
	name      string
	direction float64
	p         FlowLimit
	timeline
	level sustained
	hours float64 // that an excess may last

	unavoidable int64
	energy      sum
	spentTick   int64
	spent       bool
}

// shortW is how much an inverter may be short of its room: what a meter could just
// see. Common practice, no source.
const shortW = 1

func newFlowLimit(name string, direction float64, p FlowLimit, step time.Duration) (Monitor, error) {
	line, err := newTimeline(step)
	if err != nil {
		return nil, err
	}
	if err := wantNotNegative(name, "below", p.BelowW); err != nil {
		return nil, err
	}
	if err := wantDuration(name, "except", p.Except, 0); err != nil {
		return nil, err
	}
	if p.EnergyWh != nil {
		if err := wantNotNegative(name, "energy", *p.EnergyWh); err != nil {
			return nil, err
		}
	}
	return &flowLimit{
		name: name, direction: direction, p: p, timeline: line, level: newSustained(line.samples(p.Except)), hours: p.Except.Hours(),
	}, nil
}

func (m *flowLimit) Name() string { return m.name }

func (m *flowLimit) Observe(s *Sample) {
	raise, discharge := s.reach()
	if m.direction < 0 {
		raise = discharge
	}
	lower := m.keepsUp(s)
	flow, rest := m.direction*s.GridW, m.direction*s.NetLoadW
	limit := max(m.p.BelowW, rest-lower)
	excess := flow - limit
	if !m.accept(s, excess) {
		return
	}
	if limit > m.p.BelowW {
		m.unavoidable++
	}
	if excess > roundingW {
		m.spend(excess)
	}
	m.level.push(s.Tick, excess, limit, m.rounding(limit), max(flow, rest+raise) > limit)
}

// keepsUp is the room of the batteries that could lower the flow for as long as an
// excess may last.
func (m *flowLimit) keepsUp(s *Sample) (sum float64) {
	for i := range s.Inverters {
		v := &s.Inverters[i]
		room, left := v.DischargeRoomW, v.SOC-v.Reserve
		if m.direction < 0 {
			room, left = v.ChargeRoomW, 1-v.SOC
		}
		if v.CapacityWh > 0 && left*v.CapacityWh < room*m.hours {
			continue
		}
		sum += room
	}
	return sum
}

// rounding is what counts as no excess over a limit.
func (m *flowLimit) rounding(limit float64) float64 {
	if limit > m.p.BelowW {
		return shortW
	}
	return roundingW
}

// spend books excess energy and notes when the allowance is used up.
func (m *flowLimit) spend(excess float64) {
	m.energy.wattHours(excess, m.stepS)
	if m.p.EnergyWh != nil && !m.spent && m.energy.value() > *m.p.EnergyWh {
		m.spent, m.spentTick = true, m.last
	}
}

func (m *flowLimit) Breach() int64 { return earliest(m.level.breachTick, m.spentTick) }

func (m *flowLimit) Result() Result {
	level := ClauseResult{
		Name: "level", Formula: "min over windows of max over the window of (max(below, unavoidable) - flow)",
		Status: NotExercised, Unit: "W",
	}
	if w := &m.level; w.judged() {
		level = clause(level.Name, level.Formula,
			w.worst.with+w.worst.value, w.worst.with, m.rounding(w.worst.with), "W", m.at(w.worstStart))
	}
	clauses := []ClauseResult{level}
	if m.p.EnergyWh != nil {
		clauses = append(clauses, clause("energy", "energy - sum of max(0, flow - max(below, unavoidable)) x step",
			m.energy.value(), *m.p.EnergyWh, 1e-9, "Wh", m.at(m.spentTick)))
	}
	r := conclude(m.name, m.level.exercised, NotExercised, clauses...)
	r.Avoidable = r.Status == Failed
	switch {
	case r.Status == Failed && m.level.breached:
		r.FirstBreachS = m.at(m.level.breachTick)
	case r.Status == Failed:
		r.FirstBreachS = m.at(m.spentTick)
	}
	unavoidableS := m.at(m.unavoidable)
	r.Figures = []Figure{
		{"excess_energy", m.energy.value(), "Wh"},
		{"unavoidable", unavoidableS, "s"},
	}
	if m.energy.value() > 0 {
		r.note("avoidable excess %.1f Wh", m.energy.value())
	}
	if m.unavoidable > 0 {
		r.note("for %.1f s no controller could have kept %.0f W", unavoidableS, m.p.BelowW)
	}
	return m.blame(r)
}

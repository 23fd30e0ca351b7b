package physics

import "math"

// Meter is the runtime state of one meter. It samples the flow into its
// feeder, adds its errors, and tells the value later.
type Meter struct {
	ReadingW float64    // the reading told last [W], import positive unless fitted reversed
	PhaseW   [3]float64 // the same per conductor [W]
	Fault    MeterFault

	// Imported and Exported are its energy registers; they integrate
	// the net flow of all clasped conductors, with its gain error but without its noise.
	Imported, Exported Energy

	par          MeterParams
	gain         float64 // orientation x (1 + GainError)
	refreshTicks int64
	latencyTicks int64
	nextTick     int64 // the tick at whose beginning the next sample is taken
	noise        stream
	queue        []reading // samples taken and not yet told, a ring
	head, length int
}

// reading is one sample under way.
type reading struct {
	dueTick int64
	totalW  float64
	phaseW  [3]float64
}

func newMeter(p MeterParams, s *Site) Meter {
	ticks := func(seconds float64) int64 { n, _ := s.ticks(seconds); return n }
	m := Meter{
		par:          p,
		gain:         1 + p.GainError,
		refreshTicks: ticks(p.RefreshS),
		latencyTicks: ticks(p.LatencyS),
		nextTick:     ticks(p.PhaseS),
		noise:        newStream(s.Seed, "meter/"+p.Name),
	}
	if p.Reversed {
		m.gain = -m.gain
	}
	m.Imported, m.Exported = newEnergy(s.StepMS), newEnergy(s.StepMS)
	// A latency longer than the refresh keeps several samples under way.
	m.queue = make([]reading, m.latencyTicks/m.refreshTicks+2)
	return m
}

// flow returns the true power in the clasped conductors [W].
func (m *Meter) flow(n *node) float64 {
	if m.par.Phases == AllPhases {
		return n.endW
	}
	return n.phaseEnd(m.par.Phases)
}

// sample reads the feeder now.
func (m *Meter) sample(n *node, phases int) reading {
	gain := m.gain
	if m.Fault == MeterReversed {
		gain = -gain
	}
	error := m.par.OffsetW
	if m.par.NoiseW > 0 {
		error += float64(m.par.NoiseW * m.noise.normal())
	}
	r := reading{totalW: quantise(float64(gain*m.flow(n))+error, m.par.ResolutionW)}
	if phases == 1 {
		r.phaseW[0] = r.totalW
		return r
	}
	for i := range r.phaseW {
		if m.par.Phases == AllPhases {
			r.phaseW[i] = quantise(float64(gain*n.phaseEnd(L1+Phases(i)))+error/3, m.par.ResolutionW)
		} else if m.par.Phases == L1+Phases(i) {
			r.phaseW[i] = r.totalW
		}
	}
	return r
}

// tell publishes a reading.
func (m *Meter) tell(r *reading) { m.ReadingW, m.PhaseW = r.totalW, r.phaseW }

// step samples and publishes at the instant that begins the given tick.
func (m *Meter) step(tick int64, n *node, phases int) {
	if tick == m.nextTick {
		m.nextTick += m.refreshTicks
		r := m.sample(n, phases)
		r.dueTick = tick + m.latencyTicks
		m.queue[(m.head+m.length)%len(m.queue)] = r
		m.length++
	}
	if m.length > 0 && m.queue[m.head].dueTick <= tick {
		if m.Fault != MeterFrozen {
			m.tell(&m.queue[m.head])
		}
		m.length--
		if m.head++; m.head == len(m.queue) {
			m.head = 0
		}
	}
}

// book integrates one tick's mean flow into the energy registers.
func (m *Meter) book(n *node) {
	w := n.meanW
	if m.par.Phases != AllPhases {
		w = n.phaseMean(m.par.Phases)
	}
	w *= m.gain
	if m.Fault == MeterReversed {
		w = -w
	}
	if w >= 0 {
		m.Imported.add(w)
	} else {
		m.Exported.add(-w)
	}
}

// quantise rounds to a multiple of the resolution, halves to even.
func quantise(v, resolution float64) float64 {
	if resolution == 0 {
		return v
	}
	return math.RoundToEven(v/resolution) * resolution
}

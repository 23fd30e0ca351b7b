package physics

import "math"

// Meter is the runtime state of one meter. It samples the flow into its
// feeder, adds its errors, and tells the value later.
type Meter struct {
	ReadingW float64    // the reading told last [W], import positive unless fitted reversed
	Fault    MeterFault // for reading; SetMeterFault changes it

	imported, exported Energy
	node               *node
	feeder             int
	wakeTick           int64   // the next tick at whose beginning it samples or tells
	gain               float64 // orientation x (1 + GainError), turned round by MeterReversed
	plain              bool    // its registers take the net flow as it is
	phased             bool    // its conductors can differ
	single             bool    // the site has one conductor only

	par          *MeterParams
	cts          *ctFactors // nil where the transformers are right
	fitted       CTWiring   // with the errors drawn
	refreshTicks int64
	latencyTicks int64
	nextTick     int64 // the tick at whose beginning the next sample is taken
	noise        stream
	queue        []reading // samples taken and not yet told, a ring
	head, length int
	told         reading

	// Of the present block of a plain meter: what counted before its sign turned, and what its feeder had summed then.
	heldIn, heldOut, tookIn, tookOut float64
}

// reading is one sample under way.
type reading struct {
	dueTick int64
	totalW  float64
	rawW    float64    // not rounded
	phaseW  [3]float64 // not rounded; only of meters whose conductors can differ
}

// newMeter makes a meter; unequal says that the conductors of the site can differ.
func newMeter(p *MeterParams, s *Site, unequal bool) Meter {
	ticks := func(seconds float64) int64 { n, _ := s.ticks(seconds); return n }
	m := Meter{
		par:          p,
		feeder:       p.Feeder,
		gain:         1 + p.GainError,
		refreshTicks: ticks(p.RefreshS),
		latencyTicks: ticks(p.LatencyS),
		nextTick:     ticks(p.PhaseS),
		noise:        newStream(s.Seed, "meter/"+p.Name),
	}
	if p.Reversed {
		m.gain = -m.gain
	}
	m.draw(s)
	m.imported, m.exported = newEnergy(s.StepMS), newEnergy(s.StepMS)
	// A latency longer than the refresh keeps several samples under way.
	m.queue = make([]reading, m.latencyTicks/m.refreshTicks+2)
	m.plain = m.cts == nil && !p.PerPhase && p.Phases == AllPhases
	m.wakeTick = m.nextTick
	m.single = s.Phases == 1
	m.phased = !m.single && (unequal || m.cts != nil || p.Phases != AllPhases)
	return m
}

// draw draws the errors that an accuracy class allows, once: uniformly within the limits at the rated
// current. A class that does not limit the displacement gets none.
func (m *Meter) draw(s *Site) {
	chance := newStream(s.Seed, "meter class/"+m.par.Name)
	within := func(limit float64) float64 { return float64(limit * (float64(2*chance.uniform()) - 1)) }
	if c := m.par.Class; c != nil {
		m.gain *= 1 + within(MeterErrorLimit(*c, 1, false)/100)
	}
	if m.par.CTs == nil && m.par.CTClass == nil {
		return
	}
	w := RightWiring()
	if m.par.CTs != nil {
		w = *m.par.CTs
	}
	if c := m.par.CTClass; c != nil {
		ratio, minutes := CTErrorLimit(*c, 100)
		for k := range w {
			w[k].GainError += within(ratio / 100)
			if d := within(1); minutes < 1e6 {
				w[k].PhaseMinutes += float64(d * minutes)
			}
		}
	}
	f := w.factors()
	m.cts, m.fitted = &f, w
}

// phases is what the transformers make of the true flow, end or mean [W], per conductor.
func (m *Meter) phases(w, q [3]float64) [3]float64 {
	if m.cts == nil {
		return w
	}
	return m.cts.measure(w, q)
}

// flow returns the true power in the clasped conductors [W].
func (m *Meter) flow(n *node) float64 {
	if m.cts != nil {
		return m.clasped(m.phases(n.ends()))
	}
	if m.par.Phases == AllPhases {
		return n.endW
	}
	return n.phaseEnd(m.par.Phases)
}

// clasped sums the conductors that the meter clasps.
func (m *Meter) clasped(w [3]float64) float64 {
	if m.par.Phases == AllPhases {
		return w[0] + w[1] + w[2]
	}
	return w[m.par.Phases-L1]
}

// sample reads the feeder now.
func (m *Meter) sample(n *node, r *reading) {
	error := m.par.OffsetW
	if m.par.NoiseW > 0 {
		error += float64(m.par.NoiseW * m.noise.normal())
	}
	raw := float64(m.gain*m.flow(n)) + error
	r.totalW, r.rawW = quantise(raw, m.par.ResolutionW), raw
	if !m.phased {
		return
	}
	if m.par.Phases != AllPhases {
		r.phaseW[m.par.Phases-L1] = raw
		return
	}
	seen := m.phases(n.ends())
	for i := range r.phaseW {
		r.phaseW[i] = float64(m.gain*seen[i]) + error/3
	}
}

// tell publishes a reading.
func (m *Meter) tell(r *reading) { m.ReadingW, m.told = r.totalW, *r }

// PhaseW is the reading told last, per conductor [W].
func (m *Meter) PhaseW() (w [3]float64) {
	w = m.told.phaseW
	switch {
	case m.single:
		w[0] = m.told.rawW
	case !m.phased:
		third := m.told.rawW / 3
		w = [3]float64{third, third, third}
	}
	for i := range w {
		w[i] = quantise(w[i], m.par.ResolutionW)
	}
	return w
}

// ImportedWh and ExportedWh are its energy registers [Wh]; they integrate the net flow of all clasped
// conductors, or each conductor apart, with its gain error but without its noise.
func (m *Meter) ImportedWh() float64 { m.take(); return m.imported.Wh() }
func (m *Meter) ExportedWh() float64 { m.take(); return m.exported.Wh() }

// take fetches the block of a plain meter from its feeder, which sums what flows in and out once for all meters on it.
func (m *Meter) take() {
	if !m.plain {
		return
	}
	in, out := m.node.inW-m.tookIn, m.node.outW-m.tookOut
	gain := m.gain
	if gain < 0 {
		in, out, gain = out, in, -gain
	}
	m.imported.block = m.heldIn + float64(in*gain)
	m.exported.block = m.heldOut + float64(out*gain)
}

// flush books the block.
func (m *Meter) flush() {
	m.take()
	m.imported.flush()
	m.exported.flush()
	m.heldIn, m.heldOut, m.tookIn, m.tookOut = 0, 0, 0, 0
}

// setFault makes it faulty, or sound again.
func (m *Meter) setFault(f MeterFault) {
	if (f == MeterReversed) != (m.Fault == MeterReversed) {
		// What has been counted so far stays counted; the rest of the block counts the other way round.
		m.take()
		m.heldIn, m.heldOut = m.imported.block, m.exported.block
		m.tookIn, m.tookOut = m.node.inW, m.node.outW
		m.gain = -m.gain
	}
	m.Fault = f
}

// step samples and publishes at the instant that begins the given tick; it need not be called before wakeTick.
func (m *Meter) step(tick int64, n *node) {
	if tick == m.nextTick {
		m.nextTick += m.refreshTicks
		at := m.head + m.length
		if at >= len(m.queue) {
			at -= len(m.queue)
		}
		r := &m.queue[at]
		m.sample(n, r)
		r.dueTick = tick + m.latencyTicks
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
	m.wakeTick = m.nextTick
	if m.length > 0 {
		m.wakeTick = min(m.wakeTick, m.queue[m.head].dueTick)
	}
}

// book integrates one tick's mean flow into the energy registers of a meter that is not plain.
func (m *Meter) book(n *node) {
	switch {
	case m.par.PerPhase && m.par.Phases == AllPhases:
		for _, w := range m.phases(n.means()) {
			m.register(w * m.gain)
		}
	default:
		m.register(m.clasped(m.phases(n.means())) * m.gain)
	}
}

func (m *Meter) register(w float64) {
	if w >= 0 {
		m.imported.add(w)
	} else {
		m.exported.add(-w)
	}
}

// quantise rounds to a multiple of the resolution, halves to even.
func quantise(v, resolution float64) float64 {
	if resolution == 0 {
		return v
	}
	return math.RoundToEven(v/resolution) * resolution
}

package criteria

import (
	"math"
	"time"
)

// Reserve asks that no battery is discharged below what is kept for an outage.
type Reserve struct {
	// Below is how far under its reserve a battery may be discharged, as a
	// fraction of its capacity, at least zero.
	Below float64
	// Except is how long a deeper discharge may last: an inverter that answers
	// late goes on for a moment.
	Except time.Duration
	// Names are what the batteries are called, in the samples' order.
	Names []string
}

const (
	// dischargingW tells discharging from what a battery loses by itself, or an
	// inverter takes for its own supply; common practice, no source.
	dischargingW = 50
	// nearReserve is how close to its reserve a battery must be for the criterion
	// to be put to the test, as a fraction; common practice, no source.
	nearReserve = 0.02
)

// reserve judges the depth of each battery i with the reserve R_i,
//
//	D_i[n] = max(-2 %, R_i[n] - SOC_i[n])  while it discharges with more than 50 W
//	                                       and the supply is there
//	       = min(0, the same)              else
//
// and with K = floor(Except / step) + 1
//
//	margin = 100 x (Below - max over i and n of min over j < K of D_i[n-j])
//
// in percentage points. SOC is the true one. R is the owner's, so that a
// controller which writes a lower reserve does not escape. In an outage the
// reserve is there to be used.
//
// Exercised counts, over all batteries, the windows in each of whose samples the
// supply was there and the state of charge at most 2 % above the reserve. A
// battery whose reserve is 0 exercises nothing.
type reserve struct {
	p Reserve
	timeline
	batteries []sustained
	at0       []reserveScene // what was true when each battery was at its worst
	native    []int64        // steps below the reserve by the native loop
	commanded []int64        // the same by command
}

// reserveScene is what Detail tells of the worst time.
type reserveScene struct {
	depth, soc, told float64
}

// NewReserve watches that the batteries keep their reserve while there is a supply.
func NewReserve(p Reserve, step time.Duration) (Monitor, error) {
	line, err := newTimeline(step)
	if err != nil {
		return nil, err
	}
	if err := wantNotNegative("reserve", "below", p.Below); err != nil {
		return nil, err
	}
	if err := wantDuration("reserve", "except", p.Except, 0); err != nil {
		return nil, err
	}
	if err := wantNames("reserve", p.Names); err != nil {
		return nil, err
	}
	n := len(p.Names)
	m := &reserve{
		p: p, timeline: line, batteries: make([]sustained, n), at0: make([]reserveScene, n),
		native: make([]int64, n), commanded: make([]int64, n),
	}
	for i := range m.batteries {
		m.batteries[i] = newSustained(line.samples(p.Except))
		m.at0[i].depth = -1
	}
	return m, nil
}

func (m *reserve) Name() string { return "reserve" }

func (m *reserve) Observe(s *Sample) {
	if !m.accept(s, m.sound(s)) {
		return
	}
	for i := range m.batteries {
		v := &s.Inverters[i]
		depth := max(-nearReserve, v.Reserve-v.SOC)
		discharging := v.BatteryW < -dischargingW && !s.Islanded
		if depth > 0 && !discharging {
			depth = 0
		}
		if depth > 0 {
			if v.Mode == ModeNative {
				m.native[i]++
			} else {
				m.commanded[i]++
			}
		}
		if depth > m.at0[i].depth {
			m.at0[i] = reserveScene{depth: depth, soc: v.SOC, told: v.ToldSOC}
		}
		near := v.Reserve > 0 && !s.Islanded && v.SOC <= v.Reserve+nearReserve
		m.batteries[i].push(s.Tick, depth, m.p.Below, m.p.Below+socRounding/100, near)
	}
}

// sound is finite when the sample holds each battery with finite values.
func (m *reserve) sound(s *Sample) float64 {
	if len(s.Inverters) != len(m.batteries) {
		return nan
	}
	total := 0.0
	for i := range s.Inverters {
		v := &s.Inverters[i]
		total += math.Abs(v.Reserve) + math.Abs(v.SOC) + math.Abs(v.BatteryW)
	}
	return total
}

func (m *reserve) Breach() int64 {
	_, first, _ := worstOf(m.batteries)
	return first
}

func (m *reserve) Result() Result {
	level := idle("depth", "below - max over batteries and windows of min over the window of (reserve - SOC) while discharging", "%")
	worst, first, exercised := worstOf(m.batteries)
	w := &m.batteries[worst]
	if w.judged() {
		level = clause(level.Name, level.Formula, float64(100*w.worst.value), float64(100*m.p.Below), socRounding, "%", m.at(w.worstStart))
	}
	r := conclude("reserve", exercised, NotExercised, level)
	if first != 0 {
		r.FirstBreachS = m.at(first)
		r.Avoidable = true
	}
	var native, commanded int64
	for i := range m.batteries {
		native, commanded = native+m.native[i], commanded+m.commanded[i]
	}
	r.Figures = []Figure{
		{"below_by_native_loop", m.at(native), "s"},
		{"below_by_command", m.at(commanded), "s"},
	}
	if scene := m.at0[worst]; scene.depth > 0 {
		r.note("%s was discharged to %.3g %%, %.3g %% below its reserve", nameOf(m.p.Names, worst), 100*scene.soc, 100*scene.depth)
		if scene.told > 0 {
			r.note("it reported %.3g %%", 100*scene.told)
		}
		r.note("%.1f s by command, %.1f s by its own loop", m.at(m.commanded[worst]), m.at(m.native[worst]))
	}
	return m.blame(r)
}

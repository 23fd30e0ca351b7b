package criteria

import (
	"fmt"
	"math"
	"time"
)

// Schedule asks that the batteries are charged by the end of a window.
type Schedule struct {
	// Target is the state of charge to reach, above 0 and at most 1.
	Target float64
	// Below is how much may be missing, as a fraction, at least zero.
	Below float64
	// From and To bound the window, counted from the start of the run. Both zero
	// make each cheap slot a window.
	From, To time.Duration
	// Efficiency is the share of AC energy that arrives in a battery, above 0 and
	// at most 1. It says what was achievable: a lower one asks for less.
	Efficiency float64
	// ImportBelowW, if above zero, is the import that charging must leave alone.
	ImportBelowW float64
	// Names are what the batteries are called, in the samples' order.
	Names []string
}

// schedule judges, at the end of each window and for each battery i,
//
//	missing_i = min(Target, A_i) - SOC_i
//	margin    = 100 x (Below - max over windows and i of missing_i)
//
// in percentage points, where A_i is what could be achieved: it starts as the
// state of charge at the window's first sample, and at each further sample n
//
//	A_i += Efficiency x q[n] x (charge room of i) x step / CapacityWh_i, at most 1
//	q    = min(1, max(0, ImportBelowW - NetLoadW) / sum of charge rooms)
//
// with q = 1 without ImportBelowW. The room is the rating at the battery's present
// state, so a battery that was full once and was emptied again counts as one that
// could have been full; a battery that is away has none. What a common limit
// leaves is shared by the rooms: a controller that fills one battery and starves
// the other where both could not be filled fails for the other. A state of charge
// that the scenario itself lowers within the window counts against the
// controller; stories set it before.
//
// Exercised counts windows x batteries that began or ended below Target, and
// could take up something; a battery of unknown capacity is not judged. A window
// that is open when the run ends is not judged.
type schedule struct {
	p Schedule
	timeline
	from, to int64
	gain     float64 // what 1 W x step adds to a battery of 1 Wh

	open       bool
	opened     int64
	begin      []float64 // SOC at the first sample
	achievable []float64
	soc        []float64 // at the latest sample
	away       []int64

	worst     scheduleMiss
	judged    bool
	windows   int
	exercised int
	failed    int64 // the tick of the first failure
}

// scheduleMiss is how one battery ended a window.
type scheduleMiss struct {
	missing, soc, want float64
	battery            int
	tick, away         int64
}

// NewSchedule watches that the batteries are charged when they should be.
func NewSchedule(p Schedule, step time.Duration) (Monitor, error) {
	line, err := newTimeline(step)
	if err != nil {
		return nil, err
	}
	if err := wantFraction("schedule", "target", p.Target); err != nil {
		return nil, err
	}
	if err := wantNotNegative("schedule", "below", p.Below); err != nil {
		return nil, err
	}
	if err := wantFraction("schedule", "efficiency", p.Efficiency); err != nil {
		return nil, err
	}
	if err := wantNotNegative("schedule", "import_below", p.ImportBelowW); err != nil {
		return nil, err
	}
	if err := wantNames("schedule", p.Names); err != nil {
		return nil, err
	}
	if p.From < 0 || p.To < p.From || (p.To == p.From && p.To != 0) {
		return nil, fmt.Errorf("schedule: the window from %v to %v is empty; to must be later than from, or both zero for cheap slots", p.From, p.To)
	}
	n := len(p.Names)
	return &schedule{
		p: p, timeline: line, from: line.ticks(p.From), to: line.ticks(p.To),
		gain:  p.Efficiency * line.stepS / 3600,
		begin: make([]float64, n), achievable: make([]float64, n), soc: make([]float64, n), away: make([]int64, n),
		worst: scheduleMiss{missing: math.Inf(-1)},
	}, nil
}

func (m *schedule) Name() string { return "schedule" }

func (m *schedule) Observe(s *Sample) {
	if !m.accept(s, m.sound(s)) {
		return
	}
	within := s.Cheap
	if m.to > 0 {
		within = s.Tick > m.from && s.Tick <= m.to
	}
	switch {
	case within && m.open:
		m.follow(s)
	case within:
		m.begins(s)
	case m.open:
		m.close(s.Tick - 1)
	}
	if m.open && m.to > 0 && s.Tick == m.to {
		m.close(s.Tick)
	}
}

func (m *schedule) sound(s *Sample) float64 {
	if len(s.Inverters) != len(m.soc) {
		return nan
	}
	total := math.Abs(s.NetLoadW)
	for i := range s.Inverters {
		v := &s.Inverters[i]
		total += math.Abs(v.SOC) + math.Abs(v.ChargeRoomW) + math.Abs(v.CapacityWh)
	}
	return total
}

func (m *schedule) begins(s *Sample) {
	m.open, m.opened = true, s.Tick
	for i := range m.soc {
		soc := s.Inverters[i].SOC
		m.begin[i], m.achievable[i], m.soc[i], m.away[i] = soc, soc, soc, 0
		if s.Inverters[i].CapacityWh <= 0 {
			m.achievable[i] = nan
		}
	}
}

func (m *schedule) follow(s *Sample) {
	share := 1.0
	if m.p.ImportBelowW > 0 {
		room, _ := s.reach()
		free := max(0, m.p.ImportBelowW-s.NetLoadW)
		if room > free {
			share = free / room
		}
	}
	for i := range m.soc {
		v := &s.Inverters[i]
		m.soc[i] = v.SOC
		m.achievable[i] = min(1, m.achievable[i]+float64(m.gain*share*v.ChargeRoomW/v.CapacityWh))
		if v.Away {
			m.away[i]++
		}
	}
}

// close judges each battery at the window's last sample.
func (m *schedule) close(tick int64) {
	m.open = false
	m.windows++
	for i := range m.soc {
		if m.achievable[i] != m.achievable[i] {
			continue // its capacity is not known
		}
		want := min(m.p.Target, m.achievable[i])
		missing := want - m.soc[i]
		if (m.begin[i] < m.p.Target && m.achievable[i] > m.begin[i]) || m.soc[i] < want {
			m.exercised++
		}
		if missing > m.worst.missing {
			m.worst = scheduleMiss{missing: missing, soc: m.soc[i], want: want, battery: i, tick: tick, away: m.away[i]}
			m.judged = true
		}
		if 100*(missing-m.p.Below) > socRounding && m.failed == 0 {
			m.failed = tick
		}
	}
}

func (m *schedule) Breach() int64 { return m.failed }

func (m *schedule) Result() Result {
	level := idle("missing", "below - max over windows and batteries of (min(target, achievable) - SOC) at the window's end", "%")
	if m.judged {
		level = clause(level.Name, level.Formula, float64(100*m.worst.missing), float64(100*m.p.Below), socRounding, "%", m.at(m.worst.tick))
	}
	otherwise := NotExercised
	if m.open {
		otherwise = Undetermined
	}
	r := conclude("schedule", m.exercised, otherwise, level)
	if m.failed != 0 {
		r.FirstBreachS = m.at(m.failed)
		r.Avoidable = true
	}
	r.Figures = []Figure{{"windows", float64(m.windows), ""}}
	if m.judged {
		w := &m.worst
		r.note("%s ended the window at %s with %.3g %%, of %.3g %% that could be had",
			nameOf(m.p.Names, w.battery), moment(m.at(w.tick)), 100*w.soc, 100*w.want)
		if w.away > 0 {
			r.note("it was away for %.1f s", m.at(w.away))
		}
	}
	if m.open {
		r.note("the window that began at %s was still open at the end", moment(m.at(m.opened)))
	}
	return m.blame(r)
}

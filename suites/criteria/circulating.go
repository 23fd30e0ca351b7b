package criteria

import (
	"fmt"
	"time"
)

// Circulating bounds the power that one battery gives only for another to take.
type Circulating struct {
	// BelowW is the bound in W, at least zero.
	BelowW float64
	// Except is how long an excess may last.
	Except time.Duration
	// Episode, when given, bounds the longest episode above BelowW.
	Episode *time.Duration
	// EnergyWh, when given, bounds the energy that circulates in the whole run.
	EnergyWh *float64
}

// episodeGap is how long a gap in an episode of circulating power may be; common
// practice, no source.
const episodeGap = 30 * time.Second

// circulating judges, over the battery power B of the inverters i,
//
//	Q[n] = min(sum over i of max(0, -B_i[n]), sum over i of max(0, B_i[n]))
//
// Battery power and not AC power, because PV on the DC side of one inverter that
// charges the other's battery is no fault. With K = floor(Except / step) + 1,
//
//	margin = BelowW - max over n of min over j < K of Q[n-j]
//
// AtS is the start of the worst window. An episode is a stretch with Q above
// BelowW, gaps of up to 30 s included;
//
//	margin = Episode - max over episodes of (last sample above BelowW - start of the first)
//	margin = EnergyWh - sum over n of Q[n] x step
//
// Exercised counts the windows in each of whose samples circulation above BelowW
// was possible: some inverter could discharge that much while another could
// charge that much, or they did.
type circulating struct {
	p Circulating
	timeline
	level  sustained
	energy sum

	gapTicks               int64
	episodes               int
	episodeFrom, episodeTo int64
	longest, longestFrom   int64
	lengthy                int64 // when an episode was first too long; 0 is never
	spent                  int64 // when the energy was used up; 0 is never
}

// NewCirculating watches for circulating power between the batteries.
func NewCirculating(p Circulating, step time.Duration) (Monitor, error) {
	line, err := newTimeline(step)
	if err != nil {
		return nil, err
	}
	if err := wantNotNegative("circulating", "below", p.BelowW); err != nil {
		return nil, err
	}
	if err := wantDuration("circulating", "except", p.Except, 0); err != nil {
		return nil, err
	}
	if p.EnergyWh != nil {
		if err := wantNotNegative("circulating", "energy", *p.EnergyWh); err != nil {
			return nil, err
		}
	}
	if p.Episode != nil && *p.Episode < 0 {
		return nil, fmt.Errorf("circulating: episode is %v, but must not be negative", *p.Episode)
	}
	return &circulating{
		p: p, timeline: line, level: newSustained(line.samples(p.Except)), gapTicks: line.ticks(episodeGap),
	}, nil
}

func (m *circulating) Name() string { return "circulating" }

func (m *circulating) Observe(s *Sample) {
	var givenW, takenW float64
	for i := range s.Inverters {
		b := s.Inverters[i].BatteryW
		givenW += max(0, -b)
		takenW += max(0, b)
	}
	q := min(givenW, takenW)
	if !m.accept(s, q) {
		return
	}
	m.energy.wattHours(q, m.stepS)
	if p := m.p.EnergyWh; p != nil && m.spent == 0 && m.energy.value() > *p+energyRounding {
		m.spent = m.last
	}
	if q > m.p.BelowW {
		m.extendEpisode()
	}
	m.level.push(s.Tick, q, 0, m.p.BelowW+roundingW, q > m.p.BelowW || circulationRoomW(s.Inverters) > m.p.BelowW)
}

// extendEpisode books a step above the bound.
func (m *circulating) extendEpisode() {
	if m.episodes == 0 || m.last-m.episodeTo-1 > m.gapTicks {
		m.episodes++
		m.episodeFrom = m.last
	}
	m.episodeTo = m.last
	if length := m.episodeTo - m.episodeFrom + 1; length > m.longest {
		m.longest, m.longestFrom = length, m.episodeFrom
	}
	if p := m.p.Episode; p != nil && m.lengthy == 0 && m.at(m.longest) > p.Seconds()+timeRounding {
		m.lengthy = m.last
	}
}

// timeRounding forgives the last digits of a time, in s.
const timeRounding = 1e-9

// circulationRoomW is the most that one inverter could give and a different one
// could take now.
func circulationRoomW(inverters []InverterSample) float64 {
	var give, give2, take, take2 float64
	giver, taker := -1, -1
	for i := range inverters {
		if d := inverters[i].DischargeRoomW; d > give {
			give, give2, giver = d, give, i
		} else if d > give2 {
			give2 = d
		}
		if c := inverters[i].ChargeRoomW; c > take {
			take, take2, taker = c, take, i
		} else if c > take2 {
			take2 = c
		}
	}
	if giver != taker {
		return min(give, take)
	}
	return max(min(give, take2), min(give2, take))
}

func (m *circulating) Breach() int64 { return earliest(m.level.breachTick, m.lengthy, m.spent) }

func (m *circulating) Result() Result {
	level := ClauseResult{
		Name: "level", Formula: "below - max over windows of min over the window of min(all discharging, all charging)",
		Status: NotExercised, Unit: "W",
	}
	if w := &m.level; w.judged() {
		level = clause(level.Name, level.Formula, w.worst.value, m.p.BelowW, roundingW, "W", m.at(w.worstStart))
	}
	clauses := []ClauseResult{level}
	if p := m.p.Episode; p != nil {
		clauses = append(clauses, clause("episode", "episode - the longest stretch above below, gaps of up to 30 s included",
			m.at(m.longest), p.Seconds(), timeRounding, "s", m.at(m.longestFrom)))
	}
	if p := m.p.EnergyWh; p != nil {
		clauses = append(clauses, clause("energy", "energy - sum over time of min(all discharging, all charging) x step",
			m.energy.value(), *p, energyRounding, "Wh", m.at(m.spent)))
	}
	r := conclude("circulating", m.level.exercised, NotExercised, clauses...)
	if r.Status == Failed {
		r.FirstBreachS = m.at(earliest(m.level.breachTick, m.lengthy, m.spent))
		r.Avoidable = true
	}
	r.Figures = []Figure{
		{"energy", m.energy.value(), "Wh"},
		{"episodes", float64(m.episodes), ""},
		{"longest_episode", m.at(m.longest), "s"},
	}
	r.note("%.1f Wh circulated", m.energy.value())
	if m.episodes > 0 {
		which := "it lasted"
		if m.episodes > 1 {
			which = "the longest lasted"
		}
		r.note("%s above %.0f W, %s %s from %s on", counted(m.episodes, "episode", "episodes"),
			m.p.BelowW, which, moment(m.at(m.longest)), moment(m.at(m.longestFrom)))
	}
	return m.blame(r)
}

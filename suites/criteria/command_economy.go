package criteria

import (
	"fmt"
	"time"
)

// CommandEconomy bounds how much a controller writes: registers wear out, and a
// command each poll is a sign of a controller that does not know what it wants.
// Each bound is a clause of its own, judged where it is given.
type CommandEconomy struct {
	// WritesPerHour bounds the requests to write to each device in an hour.
	WritesPerHour *float64
	// Gap is the least time between two writes to one register; 0 is no bound.
	Gap time.Duration
	// Devices are what the devices are called, in the bench's order.
	Devices []string
}

// registersTracked is how many registers are told apart: far more than a
// controller of a site writes, and a power of two.
const registersTracked = 1024

// commandEconomy judges each device d and register r, refused writes included,
//
//	margin = WritesPerHour - max over d and minutes of the writes in the last 60 minutes
//	margin = min over r and its successive writes of (t[k] - t[k-1]) - Gap
//
// the latter in seconds. Hours are whole minutes since the start, and nothing is
// extrapolated. A request that writes several registers writes each of them. Two
// writes of one step have a gap of 0.
//
// Exercised counts the requests to write. Of more than 1024 different registers the
// further ones are not told apart, and a figure counts them.
type commandEconomy struct {
	p CommandEconomy
	timeline
	minutes minutes
	devices []hourly
	table   []lastWrite
	tracked int
	missed  int

	writes   int
	flooded  int64 // when the hourly bound was first broken; 0 is never
	shortest lastWrite
	gap      int64 // ticks; only when there was one
	gaps     int
	hurried  int64 // when the gap was first too short; 0 is never
}

// lastWrite is when a register was written last. A tick of 0 marks a free place.
type lastWrite struct {
	device, register int32
	tick             int64
}

// NewCommandEconomy watches how much a controller writes.
func NewCommandEconomy(p CommandEconomy, step time.Duration) (Monitor, error) {
	line, err := newTimeline(step)
	if err != nil {
		return nil, err
	}
	if p.WritesPerHour != nil {
		if err := wantNotNegative("command_economy", "writes_per_hour", *p.WritesPerHour); err != nil {
			return nil, err
		}
	}
	if err := wantDuration("command_economy", "gap", p.Gap, 0); err != nil {
		return nil, err
	}
	if p.WritesPerHour == nil && p.Gap == 0 {
		return nil, fmt.Errorf("command_economy: no bound is given, but writes_per_hour or gap must be")
	}
	if len(p.Devices) == 0 {
		return nil, fmt.Errorf("command_economy: devices is empty, but must name each device in the bench's order")
	}
	return &commandEconomy{
		p: p, timeline: line, minutes: newMinutes(&line),
		devices: make([]hourly, len(p.Devices)), table: make([]lastWrite, registersTracked),
	}, nil
}

func (m *commandEconomy) Name() string { return "command_economy" }

func (m *commandEconomy) Observe(s *Sample) {
	if !m.accept(s, 0) {
		return
	}
	if m.minutes.step() {
		for i := range m.devices {
			m.devices[i].next()
		}
	}
	for i := range s.Writes {
		m.write(&s.Writes[i])
	}
}

func (m *commandEconomy) write(w *WriteSample) {
	if w.Device < 0 || w.Device >= len(m.devices) {
		m.faults++
		return
	}
	m.writes++
	d := &m.devices[w.Device]
	d.hit(m.last)
	if p := m.p.WritesPerHour; p != nil && m.flooded == 0 && float64(d.total) > *p {
		m.flooded = m.last
	}
	for k := range max(1, int32(w.Count)) {
		m.touch(int32(w.Device), int32(w.Register)+k)
	}
}

// touch measures the time since the register was written last.
func (m *commandEconomy) touch(device, register int32) {
	place := (uint32(register)*31 + uint32(device)*40503) % registersTracked
	for range registersTracked {
		e := &m.table[place]
		if e.tick == 0 {
			*e = lastWrite{device, register, m.last + 1} // one more, since ticks may begin at 0
			m.tracked++
			return
		}
		if e.device == device && e.register == register {
			m.measure(e)
			e.tick = m.last + 1
			return
		}
		place = (place + 1) % registersTracked
	}
	m.missed++
}

func (m *commandEconomy) measure(e *lastWrite) {
	gap := m.last + 1 - e.tick
	m.gaps++
	if m.gaps == 1 || gap < m.gap {
		m.gap, m.shortest = gap, lastWrite{e.device, e.register, m.last}
	}
	if m.hurried == 0 && m.at(gap) < m.p.Gap.Seconds()-1e-9 {
		m.hurried = m.last
	}
}

func (m *commandEconomy) Breach() int64 { return earliest(m.flooded, m.hurried) }

func (m *commandEconomy) Result() Result {
	worst := clauseWorst{}
	for i := range m.devices {
		worst.join(&m.devices[i], 0, i)
	}
	var clauses []ClauseResult
	if m.p.WritesPerHour != nil {
		clauses = append(clauses, clause("writes", "per hour - max over devices and minutes of the writes in the last 60 min",
			worst.value, *m.p.WritesPerHour, 0, "1/h", m.at(worst.tick)))
	}
	if m.p.Gap > 0 {
		gap := idle("gap", "min over registers of the time between two writes - gap", "s")
		if m.gaps > 0 {
			gap = atLeast(gap.Name, gap.Formula, m.at(m.gap), m.p.Gap.Seconds(), 1e-9, "s", m.at(m.shortest.tick))
		}
		clauses = append(clauses, gap)
	}
	r := conclude("command_economy", m.writes, NotExercised, clauses...)
	if r.Status == Failed {
		r.Avoidable = true
		r.FirstBreachS = m.at(earliest(m.flooded, m.hurried))
	}
	r.Figures = []Figure{
		{"writes", float64(m.writes), ""},
		{"busiest_hour", worst.value, "1/h"},
		{"registers", float64(m.tracked), ""},
		{"registers_not_told_apart", float64(m.missed), ""},
	}
	r.note("%s in all; in the busiest hour %d to %s", counted(m.writes, "write", "writes"),
		int(worst.value), m.p.Devices[worst.whose])
	if m.gaps > 0 {
		r.note("soonest, register %d of %s was written again after %s", m.shortest.register,
			m.p.Devices[m.shortest.device], moment(m.at(m.gap)))
	}
	return m.blame(r)
}

// earliest is the first of some ticks, where 0 is never.
func earliest(ticks ...int64) int64 {
	first := int64(0)
	for _, t := range ticks {
		if t != 0 && (first == 0 || t < first) {
			first = t
		}
	}
	return first
}

package criteria

import (
	"fmt"
	"math"
	"time"
)

// Wear bounds what a controller costs the batteries and inverters in life. Each
// bound is a clause of its own, judged where it is given.
type Wear struct {
	// CyclesPerDay bounds the equivalent full cycles of each battery in a day.
	CyclesPerDay *float64
	// ReversalsPerHour bounds how often a battery may change between charging and
	// discharging in an hour.
	ReversalsPerHour *float64
	// ModeFlipsPerHour bounds how often an inverter's mode may change in an hour.
	ModeFlipsPerHour *float64
	// Names are what the batteries are called, in the samples' order.
	Names []string
}

// wear judges each battery i by three counts, the worst battery deciding.
//
// Cycles: E_i(t) is the sum of range x count of the rainflow cycles of the state
// of charge up to t, where the ranges that are still open count as half cycles
// (ASTM E1049-85 clause 5.4.4). With whole hours h of the run, and its end,
//
//	margin = CyclesPerDay - max over i and h of (E_i(h) - E_i(max(0, h - 24)))
//
// where the end of the run stands for the whole hour in which it falls.
//
// Reversals: a battery charges when it takes more than 50 W and discharges when it
// gives more; in between it goes on with what it did. A reversal is a change
// from one to the other. Mode flips: a mode that is known and differs from the
// last that was known, whoever changed it.
//
//	margin = PerHour - max over i and minutes of the count in the last 60 minutes
//
// Nothing is extrapolated: a run of 10 minutes is judged by what happened in it,
// and a bound that it broke is broken.
//
// Exercised counts the steps in which a battery carried more than 50 W.
type wear struct {
	p Wear
	timeline
	minutes   minutes
	sinceHour int // minutes since the last whole hour
	batteries []batteryWear
	exercised int

	cycles clauseWorst
}

// clauseWorst is the largest count so far, whose it was and when.
type clauseWorst struct {
	value  float64
	whose  int
	tick   int64
	broken int64 // the first tick at which the bound was found broken; 0 is never
}

type batteryWear struct {
	cycles    rainflow
	marks     [25]float64 // equivalent cycles at the last whole hours
	hour      int         // how many whole hours there were
	direction int8
	mode      Mode

	reversals, flips hourly
	flipped, turned  int64 // when a bound was first broken; 0 is never
}

// NewWear watches what the batteries and inverters go through.
func NewWear(p Wear, step time.Duration) (Monitor, error) {
	line, err := newTimeline(step)
	if err != nil {
		return nil, err
	}
	for _, b := range []struct {
		field string
		bound *float64
	}{{"cycles_per_day", p.CyclesPerDay}, {"reversals_per_hour", p.ReversalsPerHour}, {"mode_flips_per_hour", p.ModeFlipsPerHour}} {
		if b.bound != nil {
			if err := wantNotNegative("wear", b.field, *b.bound); err != nil {
				return nil, err
			}
		}
	}
	if p.CyclesPerDay == nil && p.ReversalsPerHour == nil && p.ModeFlipsPerHour == nil {
		return nil, fmt.Errorf("wear: no bound is given, but at least one of cycles_per_day, reversals_per_hour and mode_flips_per_hour must be")
	}
	if err := wantNames("wear", p.Names); err != nil {
		return nil, err
	}
	return &wear{p: p, timeline: line, minutes: newMinutes(&line), batteries: make([]batteryWear, len(p.Names))}, nil
}

func (m *wear) Name() string { return "wear" }

func (m *wear) Observe(s *Sample) {
	if !m.accept(s, m.sound(s)) {
		return
	}
	if m.minutes.step() {
		m.nextMinute(s.Tick - 1)
	}
	worked := false
	for i := range m.batteries {
		b, v := &m.batteries[i], &s.Inverters[i]
		b.cycles.add(v.SOC)
		switch {
		case v.BatteryW > dischargingW:
			worked = true
			if b.direction < 0 {
				m.reverse(b)
			}
			b.direction = 1
		case v.BatteryW < -dischargingW:
			worked = true
			if b.direction > 0 {
				m.reverse(b)
			}
			b.direction = -1
		}
		if v.Mode != b.mode && v.Mode != ModeUnknown {
			if b.mode != ModeUnknown {
				m.flip(b)
			}
			b.mode = v.Mode
		}
	}
	if worked {
		m.exercised++
	}
}

func (m *wear) sound(s *Sample) float64 {
	if len(s.Inverters) != len(m.batteries) {
		return nan
	}
	total := 0.0
	for i := range s.Inverters {
		total += math.Abs(s.Inverters[i].SOC) + math.Abs(s.Inverters[i].BatteryW)
	}
	return total
}

func (m *wear) reverse(b *batteryWear) {
	b.reversals.hit(m.last)
	if p := m.p.ReversalsPerHour; p != nil && b.turned == 0 && float64(b.reversals.total) > *p {
		b.turned = m.last
	}
}

func (m *wear) flip(b *batteryWear) {
	b.flips.hit(m.last)
	if p := m.p.ModeFlipsPerHour; p != nil && b.flipped == 0 && float64(b.flips.total) > *p {
		b.flipped = m.last
	}
}

// nextMinute books the minute that ended with the given tick.
func (m *wear) nextMinute(ended int64) {
	m.sinceHour++
	whole := m.sinceHour == 60
	if whole {
		m.sinceHour = 0
	}
	for i := range m.batteries {
		b := &m.batteries[i]
		b.reversals.next()
		b.flips.next()
		if whole {
			m.cycles.take(b.day(), m.p.CyclesPerDay, i, ended)
			b.hour++
			b.marks[b.hour%len(b.marks)] = b.cycles.ended().sum
		}
	}
}

// day is the equivalent cycles since 24 h before the coming whole hour.
func (b *batteryWear) day() float64 {
	since := 0.0
	if b.hour+1 > 24 {
		since = b.marks[(b.hour+1-24)%len(b.marks)]
	}
	return b.cycles.ended().sum - since
}

func (w *clauseWorst) take(value float64, bound *float64, whose int, tick int64) {
	if value > w.value {
		w.value, w.whose, w.tick = value, whose, tick
	}
	if bound != nil && w.broken == 0 && value > *bound+cycleRounding {
		w.broken = tick
	}
}

// cycleRounding forgives the last digits of a sum of states of charge.
const cycleRounding = 1e-9

func (m *wear) Breach() int64 {
	first := m.cycles.broken
	for i := range m.batteries {
		first = earliest(first, m.batteries[i].turned, m.batteries[i].flipped)
	}
	return first
}

func (m *wear) Result() Result {
	cycles, reversals, flips := m.cycles, clauseWorst{}, clauseWorst{}
	deepest := 0.0
	for i := range m.batteries {
		b := &m.batteries[i]
		cycles.take(b.day(), m.p.CyclesPerDay, i, m.last)
		reversals.join(&b.reversals, b.turned, i)
		flips.join(&b.flips, b.flipped, i)
		deepest = max(deepest, b.cycles.ended().deepest)
	}
	var clauses []ClauseResult
	first := int64(0)
	for _, c := range []struct {
		name, formula, unit string
		bound               *float64
		worst               *clauseWorst
	}{
		{"cycles", "per day - max over batteries and hours of the equivalent full cycles in the last 24 h, by rainflow", "1/d", m.p.CyclesPerDay, &cycles},
		{"reversals", "per hour - max over batteries and minutes of the changes between charging and discharging in the last 60 min", "1/h", m.p.ReversalsPerHour, &reversals},
		{"mode_flips", "per hour - max over inverters and minutes of the changes of mode in the last 60 min", "1/h", m.p.ModeFlipsPerHour, &flips},
	} {
		if c.bound == nil {
			continue
		}
		clauses = append(clauses, clause(c.name, c.formula, c.worst.value, *c.bound, cycleRounding, c.unit, m.at(c.worst.tick)))
		if c.worst.broken != 0 && (first == 0 || c.worst.broken < first) {
			first = c.worst.broken
		}
	}
	r := conclude("wear", m.exercised, NotExercised, clauses...)
	if r.Status == Failed {
		r.FirstBreachS = m.at(first)
		r.Avoidable = true
	}
	r.Figures = []Figure{
		{"cycles", cycles.value, "1/d"},
		{"deepest_cycle", 100 * deepest, "%"},
		{"reversals", reversals.value, "1/h"},
		{"mode_flips", flips.value, "1/h"},
	}
	r.note("%.3g equivalent full cycles in a day (%s)", cycles.value, nameOf(m.p.Names, cycles.whose))
	r.note("%s in an hour (%s)", counted(int(reversals.value), "reversal", "reversals"), nameOf(m.p.Names, reversals.whose))
	r.note("%s in an hour (%s)", counted(int(flips.value), "change of mode", "changes of mode"), nameOf(m.p.Names, flips.whose))
	return m.blame(r)
}

// join takes one battery's hourly count into the worst.
func (w *clauseWorst) join(h *hourly, broken int64, whose int) {
	if float64(h.most) > w.value {
		w.value, w.whose, w.tick = float64(h.most), whose, h.mostTick
	}
	if broken != 0 && (w.broken == 0 || broken < w.broken) {
		w.broken = broken
	}
}

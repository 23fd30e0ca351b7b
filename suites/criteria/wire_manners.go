package criteria

import (
	"fmt"
	"time"
)

// WireManners asks that a controller treats the devices' interfaces with respect.
type WireManners struct {
	// Exceptions, Illegal and Forbidden are how many exception replies, illegal
	// writes and writes to devices that may not be commanded are tolerated.
	Exceptions, Illegal, Forbidden int
	// ReadsPerS bounds the requests to read of each device, as a mean over any time
	// of length Over; 0 is no bound.
	ReadsPerS float64
	Over      time.Duration
	// Devices are what the devices are called, in the bench's order.
	Devices []string
}

// wireManners counts over the whole run and all devices, a clause each,
//
//	margin = tolerated - count
//
// of exception replies that the requests deserved, of writes to what may not be
// written or out of range, and of writes to devices that the scenario does not
// let the controller command. Of the reads of each device d, with K = Over / step
// steps,
//
//	margin = ReadsPerS - max over d and n of (reads in steps n-K+1 .. n) / Over
//
// Exercised counts the requests.
type wireManners struct {
	p WireManners
	timeline
	span                           int64
	devices                        []readRate
	requests                       int
	exceptions, illegal, forbidden misdeed
	busiest                        int // reads within Over
	busiestTick, hastyTick         int64
	busiestDevice                  int
}

// misdeed counts what should not happen, and keeps when the tolerance was passed.
type misdeed struct {
	count             int
	device            int // the first
	first, last, over int64
}

func (d *misdeed) add(n, device, tolerated int, tick int64) {
	if n <= 0 {
		return
	}
	if d.count == 0 {
		d.first, d.device = tick, device
	}
	d.count += n
	d.last = tick
	if d.over == 0 && d.count > tolerated {
		d.over = tick
	}
}

// readRate holds the steps of the last span in which a device was read.
type readRate struct {
	ring       []readStep
	head, size int
	total      int
}

type readStep struct {
	tick  int64
	reads int
}

// NewWireManners watches what a controller does on the wire.
func NewWireManners(p WireManners, step time.Duration) (Monitor, error) {
	line, err := newTimeline(step)
	if err != nil {
		return nil, err
	}
	for _, c := range []struct {
		field string
		n     int
	}{{"exceptions", p.Exceptions}, {"illegal", p.Illegal}, {"forbidden", p.Forbidden}} {
		if c.n < 0 {
			return nil, fmt.Errorf("wire_manners: %s is %d, but must not be negative", c.field, c.n)
		}
	}
	if err := wantNotNegative("wire_manners", "reads_per_s", p.ReadsPerS); err != nil {
		return nil, err
	}
	if len(p.Devices) == 0 {
		return nil, fmt.Errorf("wire_manners: devices is empty, but must name each device in the bench's order")
	}
	m := &wireManners{p: p, timeline: line}
	m.devices = make([]readRate, len(p.Devices))
	if p.ReadsPerS > 0 {
		if err := wantDuration("wire_manners", "over", p.Over, step); err != nil {
			return nil, err
		}
		m.span = line.ticks(p.Over)
		for i := range m.devices {
			m.devices[i].ring = make([]readStep, m.span)
		}
	}
	return m, nil
}

func (m *wireManners) Name() string { return "wire_manners" }

func (m *wireManners) Observe(s *Sample) {
	if !m.accept(s, 0) {
		return
	}
	for i := range s.Wire {
		m.see(&s.Wire[i])
	}
}

func (m *wireManners) see(w *WireSample) {
	if w.Device < 0 || w.Device >= len(m.devices) {
		m.faults++
		return
	}
	m.requests += w.Reads + w.Writes
	m.exceptions.add(w.Exceptions, w.Device, m.p.Exceptions, m.last)
	m.illegal.add(w.Illegal, w.Device, m.p.Illegal, m.last)
	m.forbidden.add(w.Forbidden, w.Device, m.p.Forbidden, m.last)
	if m.span == 0 || w.Reads <= 0 {
		return
	}
	total := m.devices[w.Device].add(m.last, m.span, w.Reads)
	if total > m.busiest {
		m.busiest, m.busiestTick, m.busiestDevice = total, m.last, w.Device
	}
	if m.hastyTick == 0 && m.rate(total) > m.p.ReadsPerS+rateRounding {
		m.hastyTick = m.last
	}
}

// rateRounding forgives the last digits of a quotient, in 1/s.
const rateRounding = 1e-9

// rate is the mean of a number of reads over the span.
func (m *wireManners) rate(reads int) float64 { return float64(reads) / m.at(m.span) }

// add takes the reads of one step and gives those of the last span of steps.
func (r *readRate) add(tick, span int64, reads int) int {
	for r.size > 0 && r.ring[r.head].tick <= tick-span {
		r.total -= r.ring[r.head].reads
		r.head = (r.head + 1) % len(r.ring)
		r.size--
	}
	r.total += reads
	if r.size > 0 {
		// One device may come twice in one sample.
		if newest := &r.ring[(r.head+r.size-1)%len(r.ring)]; newest.tick == tick {
			newest.reads += reads
			return r.total
		}
	}
	r.ring[(r.head+r.size)%len(r.ring)] = readStep{tick, reads}
	r.size++
	return r.total
}

func (m *wireManners) Breach() int64 {
	return earliest(m.exceptions.over, m.illegal.over, m.forbidden.over, m.hastyTick)
}

func (m *wireManners) Result() Result {
	count := func(name, formula, unit string, d *misdeed, tolerated int) ClauseResult {
		at := d.over
		if at == 0 {
			at = d.last
		}
		return clause(name, formula, float64(d.count), float64(tolerated), 0, unit, m.at(at))
	}
	clauses := []ClauseResult{
		count("exceptions", "tolerated - exception replies deserved", "exceptions", &m.exceptions, m.p.Exceptions),
		count("illegal", "tolerated - writes to what may not be written, or out of range", "writes", &m.illegal, m.p.Illegal),
		count("forbidden", "tolerated - writes to devices that may not be commanded", "writes", &m.forbidden, m.p.Forbidden),
	}
	if m.span > 0 {
		clauses = append(clauses, clause("read_rate", "per s - max over devices and time of the mean rate of reads over the span",
			m.rate(m.busiest), m.p.ReadsPerS, rateRounding, "1/s", m.at(m.busiestTick)))
	}
	r := conclude("wire_manners", m.requests, NotExercised, clauses...)
	if r.Status == Failed {
		r.Avoidable = true
		r.FirstBreachS = m.at(earliest(m.exceptions.over, m.illegal.over, m.forbidden.over, m.hastyTick))
	}
	r.Figures = []Figure{{"requests", float64(m.requests), ""}}
	for _, d := range []struct {
		what, way string
		*misdeed
	}{{"exception", "by", &m.exceptions}, {"illegal write", "to", &m.illegal}, {"forbidden write", "to", &m.forbidden}} {
		if d.count > 0 {
			r.note("%s, first %s %s at %s", counted(d.count, d.what, d.what+"s"), d.way, m.p.Devices[d.device], moment(m.at(d.first)))
		}
	}
	if m.busiest > 0 {
		r.note("%s was read most, %.3g times a second", m.p.Devices[m.busiestDevice], m.rate(m.busiest))
	}
	return m.blame(r)
}

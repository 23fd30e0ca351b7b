package formula

import (
	"math"
	"slices"
)

// future says how a sample is to be taken: as it was observed, or as one after the run's end, of which nothing is known but
// that it is the best or the worst for the whole sentence.
type future float64

const (
	harsh    future = -1
	observed future = 0
	kind     future = 1
)

// stream gives the margins of a part at one instant after the other. Each sample yields at most one: that of the
// instant which lies as many steps back as the part looks ahead.
type stream interface {
	push(values []float64, how future) (margin float64, is bool)
	ahead() int64 // steps
	clone(t *tally) stream
}

// tally counts how often what stands before an implies held.
type tally struct{ held int64 }

type comparisonStream struct {
	comparison
	polarity float64 // -1 where a greater margin of it makes that of the whole sentence no greater
}

func (c comparisonStream) push(values []float64, how future) (float64, bool) {
	if how != observed {
		return math.Inf(int(float64(how) * c.polarity)), true
	}
	return c.over.at(values) * c.perScale, true
}
func (comparisonStream) ahead() int64          { return 0 }
func (c comparisonStream) clone(*tally) stream { return c }

type oppositeStream struct{ of stream }

func (o oppositeStream) push(values []float64, how future) (float64, bool) {
	m, is := o.of.push(values, how)
	return -m, is
}
func (o oppositeStream) ahead() int64          { return o.of.ahead() }
func (o oppositeStream) clone(t *tally) stream { return oppositeStream{o.of.clone(t)} }

// pairing aligns two streams of which one looks further ahead.
type pairing struct {
	a, b  stream
	waitA ring // what a has told and b has not
	waitB ring
}

func newPairing(a, b stream) *pairing {
	return &pairing{a: a, b: b, waitA: newRing(max(0, b.ahead()-a.ahead()) + 1), waitB: newRing(max(0, a.ahead()-b.ahead()) + 1)}
}

func (p *pairing) push(values []float64, how future) (a, b float64, is bool) {
	if m, is := p.a.push(values, how); is {
		p.waitA.put(m)
	}
	if m, is := p.b.push(values, how); is {
		p.waitB.put(m)
	}
	if p.waitA.length == 0 || p.waitB.length == 0 {
		return 0, 0, false
	}
	return p.waitA.take(), p.waitB.take(), true
}

func (p *pairing) ahead() int64 { return max(p.a.ahead(), p.b.ahead()) }

func (p *pairing) clone(t *tally) *pairing {
	return &pairing{a: p.a.clone(t), b: p.b.clone(t), waitA: p.waitA.clone(), waitB: p.waitB.clone()}
}

type bothStream struct{ *pairing }

func (s bothStream) push(values []float64, how future) (float64, bool) {
	a, b, is := s.pairing.push(values, how)
	return min(a, b), is
}
func (s bothStream) clone(t *tally) stream { return bothStream{s.pairing.clone(t)} }

type implicationStream struct {
	*pairing
	*tally
}

func (s implicationStream) push(values []float64, how future) (float64, bool) {
	a, b, is := s.pairing.push(values, how)
	if is && a > 0 && !math.IsInf(a, 1) { // what nobody observed held in no instant
		s.held++
	}
	return max(-a, b), is
}
func (s implicationStream) clone(t *tally) stream { return implicationStream{s.pairing.clone(t), t} }

// leastStream is the least over a window that slides; with times -1 it is the greatest.
type leastStream struct {
	of    stream
	from  int64 // margins before this one are in no window
	to    int64
	over  slidingLeast
	times float64
	index int64 // of the next margin
}

func (s *leastStream) push(values []float64, how future) (float64, bool) {
	m, is := s.of.push(values, how)
	if !is {
		return 0, false
	}
	if s.index >= s.from {
		s.over.add(m * s.times)
	}
	s.index++
	if s.index <= s.to {
		return 0, false
	}
	return s.over.least() * s.times, true
}

func (s *leastStream) ahead() int64 { return s.of.ahead() + s.to }

func (s *leastStream) clone(t *tally) stream {
	c := *s
	c.of, c.over.queue = s.of.clone(t), slices.Clone(s.over.queue)
	return &c
}

// untilStream is the least over what comes before the window, and until over the window.
type untilStream struct {
	*pairing
	from, to int64
	early    ring // margins of what must hold, on their way to before
	before   slidingLeast
	inside   slidingUntil
	index    int64
}

func (s *untilStream) push(values []float64, how future) (float64, bool) {
	holds, then, is := s.pairing.push(values, how)
	if !is {
		return 0, false
	}
	inside := s.to - s.from + 1
	s.inside.add(holds, then)
	if s.inside.length > inside {
		s.inside.drop()
	}
	if s.early.put(holds); s.early.length > inside {
		if m := s.early.take(); s.from > 0 {
			s.before.add(m)
		}
	}
	s.index++
	if s.index <= s.to {
		return 0, false
	}
	m := s.inside.value()
	if s.from > 0 {
		m = min(m, s.before.least())
	}
	return m, true
}

func (s *untilStream) ahead() int64 { return s.pairing.ahead() + s.to }

func (s *untilStream) clone(t *tally) stream {
	c := *s
	c.pairing, c.early = s.pairing.clone(t), s.early.clone()
	c.before.queue = slices.Clone(s.before.queue)
	c.inside.old, c.inside.fresh = slices.Clone(s.inside.old), slices.Clone(s.inside.fresh)
	return &c
}

// ring keeps margins in the order in which they came.
type ring struct {
	of           []float64
	head, length int64
}

func newRing(n int64) ring { return ring{of: make([]float64, n)} }

func (r *ring) put(m float64) {
	r.of[(r.head+r.length)%int64(len(r.of))] = m
	r.length++
}

func (r *ring) take() float64 {
	m := r.of[r.head]
	r.head = (r.head + 1) % int64(len(r.of))
	r.length--
	return m
}

func (r *ring) clone() ring { return ring{slices.Clone(r.of), r.head, r.length} }

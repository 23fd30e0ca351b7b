package formula

// stream gives the margins of a part at one instant after the other. Each sample yields at most one: that of the
// instant which lies as many steps back as the part looks ahead.
type stream interface {
	push(values []float64) (margin float64, is bool)
	ahead() int64 // steps
}

type comparisonStream struct{ comparison }

func (c comparisonStream) push(values []float64) (float64, bool) {
	return c.over.at(values) * c.perScale, true
}
func (comparisonStream) ahead() int64 { return 0 }

type oppositeStream struct{ of stream }

func (o oppositeStream) push(values []float64) (float64, bool) {
	m, is := o.of.push(values)
	return -m, is
}
func (o oppositeStream) ahead() int64 { return o.of.ahead() }

// pairing aligns two streams of which one looks further ahead.
type pairing struct {
	a, b  stream
	waitA ring // what a has told and b has not
	waitB ring
}

func newPairing(a, b stream) *pairing {
	return &pairing{a: a, b: b, waitA: newRing(max(0, b.ahead()-a.ahead()) + 1), waitB: newRing(max(0, a.ahead()-b.ahead()) + 1)}
}

func (p *pairing) push(values []float64) (a, b float64, is bool) {
	if m, is := p.a.push(values); is {
		p.waitA.put(m)
	}
	if m, is := p.b.push(values); is {
		p.waitB.put(m)
	}
	if p.waitA.length == 0 || p.waitB.length == 0 {
		return 0, 0, false
	}
	return p.waitA.take(), p.waitB.take(), true
}

func (p *pairing) ahead() int64 { return max(p.a.ahead(), p.b.ahead()) }

type bothStream struct{ *pairing }

func (s bothStream) push(values []float64) (float64, bool) {
	a, b, is := s.pairing.push(values)
	return min(a, b), is
}

// leastStream is the least over a window that slides; with times -1 it is the greatest.
type leastStream struct {
	of    stream
	from  int64 // margins before this one are in no window
	to    int64
	over  slidingLeast
	times float64
	index int64 // of the next margin
}

func (s *leastStream) push(values []float64) (float64, bool) {
	m, is := s.of.push(values)
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

// untilStream is the least over what comes before the window, and until over the window.
type untilStream struct {
	*pairing
	from, to int64
	early    ring // margins of what must hold, on their way to before
	before   slidingLeast
	inside   slidingUntil
	index    int64
}

func (s *untilStream) push(values []float64) (float64, bool) {
	holds, then, is := s.pairing.push(values)
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

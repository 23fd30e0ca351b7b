package formula

import "math"

// slidingLeast is the least of the last so many margins: a queue of those that can still become it (D. Lemire, Streaming
// maximum-minimum filter using no more than three comparisons per element, Nordic J. Computing 13, 2006).
type slidingLeast struct {
	window int64
	index  int64 // of the next margin
	queue  []dated
	head   int64
	length int64
}

type dated struct {
	index  int64
	margin float64
}

func newSlidingLeast(window int64) slidingLeast {
	return slidingLeast{window: window, queue: make([]dated, window+1)}
}

func (s *slidingLeast) at(k int64) *dated { return &s.queue[(s.head+k)%int64(len(s.queue))] }

func (s *slidingLeast) add(m float64) {
	for s.length > 0 && s.at(s.length-1).margin >= m {
		s.length--
	}
	*s.at(s.length) = dated{s.index, m}
	s.length++
	s.index++
	if s.at(0).index < s.index-s.window {
		s.head = (s.head + 1) % int64(len(s.queue))
		s.length--
	}
}

func (s *slidingLeast) least() float64 { return s.at(0).margin }

// span is a stretch of a run as until sees it: the least margin of what must hold, and until itself over the stretch.
// One behind the other they make a span, so that a window which slides is a queue of spans made of two stacks, of which one
// keeps what the rest of it adds up to (common practice, no source).
type span struct{ holds, until float64 }

func (s span) then(next span) span {
	return span{min(s.holds, next.holds), max(s.until, min(s.holds, next.until))}
}

// emptySpan adds nothing to another.
var emptySpan = span{math.Inf(1), math.Inf(-1)}

// slidingUntil is until over the last margins of what must hold and of what must come.
type slidingUntil struct {
	old    []span // the oldest last, each with all that come after it in this stack
	fresh  []span
	sum    span // of fresh
	length int64
}

func newSlidingUntil(window int64) slidingUntil {
	return slidingUntil{old: make([]span, 0, window+1), fresh: make([]span, 0, window+1), sum: emptySpan}
}

func (s *slidingUntil) add(holds, then float64) {
	one := span{holds, min(holds, then)}
	s.fresh = append(s.fresh, one)
	s.sum = s.sum.then(one)
	s.length++
}

// drop forgets the oldest.
func (s *slidingUntil) drop() {
	if len(s.old) == 0 {
		rest := emptySpan
		for i := len(s.fresh) - 1; i >= 0; i-- {
			rest = s.fresh[i].then(rest)
			s.old = append(s.old, rest)
		}
		s.fresh, s.sum = s.fresh[:0], emptySpan
	}
	s.old = s.old[:len(s.old)-1]
	s.length--
}

func (s *slidingUntil) value() float64 {
	if len(s.old) == 0 {
		return s.sum.until
	}
	return s.old[len(s.old)-1].then(s.sum).until
}

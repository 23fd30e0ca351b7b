package criteria

import "math/bits"

// slidingMin holds the minimum of the last n values in constant amortised time:
// a monotonic deque in a ring of fixed capacity (D. Lemire, Streaming
// Maximum-Minimum Filter Using No More than Three Comparisons per Element,
// Nordic Journal of Computing 13, 2006). Values that can no longer become the
// minimum leave at the back, those that grow too old leave at the front.
type slidingMin struct {
	ring       []entry
	mask       int
	n          int64
	seen       int64
	head, size int
}

// entry is one value with what it was made of.
type entry struct {
	index int64
	value float64
	with  float64
}

func newSlidingMin(n int) slidingMin {
	capacity := 1 << bits.Len(uint(n-1))
	return slidingMin{ring: make([]entry, capacity), mask: capacity - 1, n: int64(n)}
}

// push adds a value; with is kept beside it.
func (w *slidingMin) push(value, with float64) {
	for w.size > 0 && w.ring[(w.head+w.size-1)&w.mask].value >= value {
		w.size--
	}
	if w.size > 0 && w.ring[w.head].index <= w.seen-w.n {
		w.head = (w.head + 1) & w.mask
		w.size--
	}
	w.ring[(w.head+w.size)&w.mask] = entry{index: w.seen, value: value, with: with}
	w.size++
	w.seen++
}

// full says whether n values were seen since the start.
func (w *slidingMin) full() bool { return w.seen >= w.n }

// min is the smallest of the last n values (of all, before the window is full).
func (w *slidingMin) min() *entry { return &w.ring[w.head] }

// forget drops the smallest value and all before it, as if the window began after
// it.
func (w *slidingMin) forget() {
	gone := w.min().index + 1
	w.head = (w.head + 1) & w.mask
	w.size--
	w.seen -= gone
	for k := range w.size {
		w.ring[(w.head+k)&w.mask].index -= gone
	}
}

func (w *slidingMin) reset() { w.head, w.size, w.seen = 0, 0, 0 }

// slidingRange holds the peak-to-peak range of the last n values.
type slidingRange struct{ low, high slidingMin }

func newSlidingRange(n int) slidingRange {
	return slidingRange{low: newSlidingMin(n), high: newSlidingMin(n)}
}

func (w *slidingRange) push(x float64) {
	w.low.push(x, 0)
	w.high.push(-x, 0)
}

func (w *slidingRange) span() float64 { return -w.high.min().value - w.low.min().value }

func (w *slidingRange) reset() {
	w.low.reset()
	w.high.reset()
}

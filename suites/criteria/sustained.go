package criteria

import "math"

// sustained finds the largest excess that lasts a whole window of K samples,
//
//	max over n of min over j < K of x[n-j]
//
// and counts the windows that could have been violated in each of their samples.
type sustained struct {
	window slidingMin
	length int64

	worst      entry
	worstStart int64 // the first tick of the worst window
	judged     bool
	breached   bool
	breachTick int64

	violable  int64
	exercised int
}

func newSustained(n int) sustained {
	return sustained{window: newSlidingMin(n), length: int64(n), worst: entry{value: math.Inf(-1)}}
}

// push takes the excess at a tick, with what it was measured against; an excess
// above rounding that lasts is a breach.
func (w *sustained) push(tick int64, excess, with, rounding float64, violable bool) {
	if violable {
		w.violable++
		if w.violable >= w.length {
			w.exercised++
		}
	} else {
		w.violable = 0
	}
	w.window.push(excess, with)
	if !w.window.full() {
		return
	}
	least := w.window.min()
	if least.value > w.worst.value {
		w.worst, w.worstStart, w.judged = *least, tick-w.length+1, true
	}
	if least.value > rounding && !w.breached {
		w.breached, w.breachTick = true, tick-w.length+1
	}
}

// worstOf is the index of the window with the largest excess, and the tick of the
// first breach of all; 0 is none.
func worstOf(list []sustained) (worst int, firstBreach int64, exercised int) {
	for i := range list {
		if list[i].worst.value > list[worst].worst.value {
			worst = i
		}
		if list[i].breached && (firstBreach == 0 || list[i].breachTick < firstBreach) {
			firstBreach = list[i].breachTick
		}
		exercised += list[i].exercised
	}
	return worst, firstBreach, exercised
}

package criteria

import "math"

// sustained finds the largest excess that lasts a whole window of K samples,
//
//	max over n of min over j < K of x[n-j]
//
// and counts the windows that could have been violated in each of their samples.
//
// A window can only beat the worst so far when each of its samples does, so that
// the window is kept of the samples since the last one that did not: after its
// first minutes a run costs one comparison a step.
type sustained struct {
	window slidingMin
	length int64
	seen   int64

	worst      entry
	worstStart int64 // the first tick of the worst window
	breached   bool
	breachTick int64

	violable  int64
	exercised int
}

func newSustained(n int) sustained {
	return sustained{window: newSlidingMin(n), length: int64(n), worst: entry{value: math.Inf(-1)}}
}

// judged says whether there was a whole window.
func (w *sustained) judged() bool { return w.seen >= w.length }

// push takes the excess at a tick, with what it was measured against; an excess
// above rounding that lasts is a breach.
func (w *sustained) push(tick int64, excess, with, rounding float64, violable bool) {
	w.seen++
	if violable {
		w.violable++
		if w.violable >= w.length {
			w.exercised++
		}
	} else {
		w.violable = 0
	}
	if excess > w.worst.value {
		w.exceed(tick, excess, with, rounding)
	} else if w.window.seen != 0 {
		w.window.reset()
	}
}

// exceed takes a sample that is above the worst so far.
func (w *sustained) exceed(tick int64, excess, with, rounding float64) {
	w.window.push(excess, with)
	if !w.window.full() {
		return
	}
	w.worst = *w.window.min()
	w.worstStart = tick - w.length + 1
	if w.worst.value > rounding && !w.breached {
		w.breached, w.breachTick = true, w.worstStart
	}
	w.window.forget()
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

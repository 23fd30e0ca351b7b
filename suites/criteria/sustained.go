package criteria

import "math"

// sustained finds the largest excess that lasts a whole window of K samples,
//
//	max over n of min over j < K of x[n-j]
//
// and counts the windows that could have been violated in each of their samples.
//
// A window can only beat the worst so far when each of its samples does. So
// samples are merely noted since the last one that did not, and the window's
// minimum is looked for once there are K of them.
type sustained struct {
	window slidingMin
	length int64
	seen   int64
	noted  []noted
	streak int // how many are noted; once there are K they are in the window

	worst      entry
	worstStart int64 // the first tick of the worst window
	breached   bool
	breachTick int64

	violable  int64
	exercised int
}

// noted is a sample that is above the worst so far.
type noted struct{ excess, with float64 }

func newSustained(n int) sustained {
	return sustained{window: newSlidingMin(n), length: int64(n), noted: make([]noted, n), worst: entry{value: math.Inf(-1)}}
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
	if excess <= w.worst.value {
		w.streak = 0
		return
	}
	if w.streak < len(w.noted) {
		w.noted[w.streak] = noted{excess, with}
		w.streak++
		if w.streak < len(w.noted) {
			return
		}
		w.window.reset()
		for _, x := range w.noted {
			w.window.push(x.excess, x.with)
		}
	} else {
		w.window.push(excess, with)
	}
	if w.window.full() {
		w.improve(tick, rounding)
	}
}

// improve takes a window in which each sample was above the worst so far.
func (w *sustained) improve(tick int64, rounding float64) {
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

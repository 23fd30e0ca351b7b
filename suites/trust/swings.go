package trust

// swings counts how a power goes up and down: the study's own measure, which no
// monitor shares. A swing is a way between turning points of at least twice the
// amplitude.
type swings struct {
	amplitudeW float64
	low, high  float64 // since the last swing turned
	begun      bool
	up         bool
	count      int
}

func (w *swings) see(x float64) {
	if !w.begun {
		w.begun, w.low, w.high = true, x, x
		return
	}
	w.low, w.high = min(w.low, x), max(w.high, x)
	switch {
	case (w.up || w.count == 0) && w.high-x >= 2*w.amplitudeW:
		w.count, w.up, w.low = w.count+1, false, x
	case (!w.up || w.count == 0) && x-w.low >= 2*w.amplitudeW:
		w.count, w.up, w.high = w.count+1, true, x
	}
}

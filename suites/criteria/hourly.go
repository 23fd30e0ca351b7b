package criteria

import "time"

// hourly counts events in the last 60 minutes, in whole minutes since the start
// of the run, and keeps the largest count. An hour of it is never longer than an
// hour, so that it never counts too many, and misses at most what falls within
// one minute. The run's first hour counts as it is, without being extrapolated.
type hourly struct {
	buckets  [60]int32
	minute   int // the present bucket
	total    int
	most     int
	mostTick int64
	all      int
}

// hit counts one event at a tick.
func (h *hourly) hit(tick int64) {
	h.buckets[h.minute]++
	h.total++
	h.all++
	if h.total > h.most {
		h.most, h.mostTick = h.total, tick
	}
}

// next begins a minute.
func (h *hourly) next() {
	h.minute++
	if h.minute == len(h.buckets) {
		h.minute = 0
	}
	h.total -= int(h.buckets[h.minute])
	h.buckets[h.minute] = 0
}

// minutes tells when a minute of the run is over.
type minutes struct{ length, left int64 }

func newMinutes(t *timeline) minutes {
	n := max(1, t.ticks(time.Minute))
	return minutes{length: n, left: n}
}

// step takes one step, and says whether a minute ended just before it.
func (m *minutes) step() bool {
	if m.left == 0 {
		m.left = m.length - 1
		return true
	}
	m.left--
	return false
}

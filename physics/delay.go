package physics

// delay is a pure dead time of a whole number of ticks: what goes in comes
// out that many calls later.
type delay struct {
	ring []float64 // empty for no delay
	at   int
}

func newDelay(ticks int64, initial float64) delay {
	d := delay{ring: make([]float64, ticks)}
	d.fill(initial)
	return d
}

func (d *delay) fill(v float64) {
	for i := range d.ring {
		d.ring[i] = v
	}
}

func (d *delay) shift(v float64) float64 {
	if len(d.ring) == 0 {
		return v
	}
	out := d.ring[d.at]
	d.ring[d.at] = v
	if d.at++; d.at == len(d.ring) {
		d.at = 0
	}
	return out
}

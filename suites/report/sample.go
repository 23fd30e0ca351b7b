package report

import "math"

// span is the part of a run that a figure shows, and its width in pixels.
type span struct {
	from, to, stepS float64
	width           float64
}

// x returns the place of a moment. Here and in the value axes products are
// fenced, so that no processor fuses them with a sum and moves a coordinate.
func (s span) x(t float64) float64 { return float64((t - s.from) / (s.to - s.from) * s.width) }

// rows returns the first row and the row after the last within the span,
// with one row beyond either edge, so that lines run out of the picture.
func (s span) rows(n int) (first, end int) {
	first = max(0, int(math.Floor(s.from/s.stepS)))
	end = min(n, int(math.Ceil(s.to/s.stepS))+1)
	return min(first, n), max(end, min(first, n))
}

// bucket is what one pixel column (or one row, where rows are wider) holds.
type bucket struct {
	x                      float64
	first, last, low, high float64 // low and high of the values
	lowFirst               bool
	min, max               float64 // of the recorded extremes
	mean                   float64
	known                  bool
}

// buckets decimates a column to the span. A pixel column keeps the first,
// last, least and greatest value, which draws the same picture as all the
// rows would: a spike of one row stays visible in a day.
func (s span) buckets(c Column) []bucket {
	first, end := s.rows(len(c.Values))
	perPixel := float64(end-first) > 2*s.width
	var all []bucket
	sum, count, pixel := 0.0, 0, math.Inf(-1)
	finish := func() {
		if count > 0 {
			all[len(all)-1].mean = sum / float64(count)
		}
		sum, count = 0, 0
	}
	for i := first; i < end; i++ {
		x := s.x(float64(i) * s.stepS)
		if p := math.Floor(x); !perPixel || p != pixel {
			finish()
			if perPixel {
				pixel, x = p, p+0.5
			}
			all = append(all, bucket{x: x})
		}
		v := c.Values[i]
		if !plottable(v) {
			continue
		}
		b := &all[len(all)-1]
		lo, hi := v, v
		if c.Min != nil && plottable(c.Min[i]) && c.Min[i] < lo {
			lo = c.Min[i]
		}
		if c.Max != nil && plottable(c.Max[i]) && c.Max[i] > hi {
			hi = c.Max[i]
		}
		if !b.known {
			*b = bucket{x: b.x, first: v, last: v, low: v, high: v, min: lo, max: hi, known: true}
		}
		if v < b.low {
			b.low, b.lowFirst = v, false
		}
		if v > b.high {
			b.high, b.lowFirst = v, true
		}
		b.last = v
		if lo < b.min {
			b.min = lo
		}
		if hi > b.max {
			b.max = hi
		}
		sum += v
		count++
	}
	finish()
	return all
}

// stroke returns the path of the values. A gap in the record is a gap in the
// line.
func stroke(all []bucket, y func(float64) float64) string {
	var t trail
	for _, b := range all {
		if !b.known {
			t.lift()
			continue
		}
		near, far := b.high, b.low
		if b.lowFirst {
			near, far = b.low, b.high
		}
		for _, v := range [4]float64{b.first, near, far, b.last} {
			t.to(b.x, y(v))
		}
	}
	return t.data()
}

// envelope returns the area between the recorded extremes.
func envelope(all []bucket, y func(float64) float64) string {
	return area(all, func(b bucket) (float64, float64) { return y(b.min), y(b.max) })
}

// beyond returns the area between the limit and the line wherever the line,
// or a neighbour of the point, exceeds it; upward says that the greater
// figure is the worse. The caller cuts it off at the limit.
func beyond(all []bucket, limit float64, upward bool, y func(float64) float64) string {
	exceeds := func(i int) bool {
		if i < 0 || i >= len(all) || !all[i].known {
			return false
		}
		return upward && all[i].max > limit || !upward && all[i].min < limit
	}
	over := make([]bucket, len(all))
	for i, b := range all {
		b.known = b.known && (exceeds(i-1) || exceeds(i) || exceeds(i+1))
		over[i] = b
	}
	return area(over, func(b bucket) (float64, float64) {
		if upward {
			return y(limit), y(b.max)
		}
		return y(limit), y(b.min)
	})
}

// area returns the outline between two edges over each unbroken stretch.
func area(all []bucket, edges func(bucket) (a, b float64)) string {
	var t trail
	for i := 0; i < len(all); {
		if !all[i].known {
			i++
			continue
		}
		j := i
		for ; j < len(all) && all[j].known; j++ {
			_, b := edges(all[j])
			t.to(all[j].x, b)
		}
		for k := j - 1; k >= i; k-- {
			a, _ := edges(all[k])
			t.to(all[k].x, a)
		}
		t.shut()
		i = j
	}
	return t.data()
}

// stacked returns an area for each column: consumption piles up from zero,
// production down from zero, so that the two edges differ by the site's own
// flow at the grid.
func (s span) stacked(columns []Column, y func(float64) float64) (areas []string, low, high float64) {
	var up, down []float64
	for _, c := range columns {
		all := s.buckets(c)
		if up == nil {
			up, down = make([]float64, len(all)), make([]float64, len(all))
		}
		pieces := ""
		for _, base := range [][]float64{up, down} {
			tops := make([]bucket, len(all))
			some := false
			for i, b := range all {
				v := b.mean
				if (&base[0] == &up[0]) != (v > 0) {
					v = 0
				}
				some = some || v != 0
				tops[i] = bucket{x: b.x, known: b.known, min: base[i], max: base[i] + v}
				base[i] += v
				low, high = math.Min(low, base[i]), math.Max(high, base[i])
			}
			if some && y != nil {
				pieces += area(trimmed(tops), func(b bucket) (float64, float64) { return y(b.min), y(b.max) })
			}
		}
		areas = append(areas, pieces)
	}
	return areas, low, high
}

// trimmed marks the flat stretches of a pile as unknown, so that a device
// that rests adds no bytes and no hairline. One flat bucket on either side
// of a stretch stays as its foot.
func trimmed(all []bucket) []bucket {
	kept := make([]bucket, len(all))
	flat := func(i int) bool { return i < 0 || i >= len(all) || all[i].min == all[i].max }
	for i, b := range all {
		b.known = b.known && !(flat(i-1) && flat(i) && flat(i+1))
		kept[i] = b
	}
	return kept
}

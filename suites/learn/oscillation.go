package learn

import "math"

// Oscillation is what comes and goes in a series.
type Oscillation struct {
	Found      bool
	PeriodS    float64
	AmplitudeW float64 // of the sine with the same mean square
	Damping    float64 // ratio; 0 goes on for ever, negative grows
	Share      float64 // of all quick movement that is of about this period [1]
}

// nearby is the factor within which frequencies count as one.
const nearby = 1.12

// oscillation looks at a series less its slow part. The period is the centre of where its spectrum is largest; the
// amplitude is that of all within a factor 1.5 of it; the damping is the logarithmic decrement of the autocorrelation over one
// period. Common practice, no source.
func oscillation(v []float64, stepS float64) Oscillation {
	n := len(v)
	reach := max(5, int(60/stepS))
	x := make([]float64, n)
	highpass(v, reach, func(i int, w float64) { x[i] = w })
	total := 0.0
	for _, w := range x {
		total += w * w
	}
	spanS := float64(n) * stepS
	longest := min(120.0, spanS/6)
	shortest := 2.2 * stepS
	if total == 0 || longest <= shortest {
		return Oscillation{}
	}
	tapered := make([]float64, n)
	for i, u := range x {
		tapered[i] = u * (0.5 - 0.5*math.Cos(2*math.Pi*(float64(i)+0.5)/float64(n)))
	}
	// Frequencies a quarter of a bin apart.
	df := 0.25 / spanS
	power := func(f float64) float64 {
		s, c := 0.0, 0.0
		w := 2 * math.Pi * f * stepS
		// A rotating phasor: one multiplication a sample instead of two sines.
		rs, rc := math.Sincos(w)
		ps, pc := 0.0, 1.0
		for _, u := range tapered {
			s += u * ps
			c += u * pc
			ps, pc = ps*rc+pc*rs, pc*rc-ps*rs
		}
		return s*s + c*c
	}
	low, high := int(math.Ceil(1/longest/df)), int(1/shortest/df)
	spectrum := make([]float64, high+1)
	all := 0.0
	for k := low; k <= high; k++ {
		spectrum[k] = power(float64(k) * df)
		all += spectrum[k]
	}
	// Bursts split a peak into several: what lies within a tenth of a period counts together.
	around := func(k float64) (sum, centre float64) {
		for m := max(low, int(math.Ceil(k/nearby))); m <= min(high, int(k*nearby)); m++ {
			sum += spectrum[m]
			centre += spectrum[m] * float64(m)
		}
		return sum, centre / sum
	}
	best, at := 0.0, 0
	for k := low; k <= high; k++ {
		if sum, _ := around(float64(k)); sum > best {
			best, at = sum, k
		}
	}
	if at == 0 || all == 0 {
		return Oscillation{}
	}
	_, f := around(float64(at))
	for range 5 { // the band follows its centre
		_, f = around(f)
	}
	f *= df
	band := 0.0
	for k := max(low, int(f/1.5/df)); k <= min(high, int(f*1.5/df)); k++ {
		band += spectrum[k]
	}
	o := Oscillation{PeriodS: 1 / f, Share: band / all}
	o.AmplitudeW = math.Sqrt(2 * total / float64(n) * o.Share)
	lag := int(math.Round(o.PeriodS / stepS))
	r1, r2 := autocorrelation(x, lag), autocorrelation(x, 2*lag)
	if r1 > 0 && r2 > 0 {
		d := math.Log(r1 / r2)
		o.Damping = d / math.Sqrt(4*math.Pi*math.Pi+d*d)
	} else {
		o.Damping = 0.5
	}
	o.Found = o.Share > 0.35 && r1 > 0.25 && o.AmplitudeW > 5
	return o
}

func autocorrelation(x []float64, lag int) float64 {
	if lag >= len(x) {
		return 0
	}
	sum, all := 0.0, 0.0
	for i := range x {
		all += x[i] * x[i]
		if i+lag < len(x) {
			sum += x[i] * x[i+lag]
		}
	}
	return sum / all
}

// circulating is the power that one unit gives for another to take: its mean [W] and its energy [Wh].
func circulating(powers [][]float64, stepS float64) (meanW, wh float64) {
	n := 0
	for i := range powers[0] {
		in, out := 0.0, 0.0
		for _, p := range powers {
			in += max(p[i], 0)
			out += max(-p[i], 0)
		}
		if c := min(in, out); !math.IsNaN(c) {
			meanW += c
			n++
		}
	}
	wh = meanW * stepS / 3600
	if n > 0 {
		meanW /= float64(n)
	}
	return meanW, wh
}

// likeness is the root mean square of the difference of two series, and the share of the first's variance that the second explains.
func likeness(log, model []float64) (rms, share float64) {
	mean, n := 0.0, 0.0
	for _, w := range log {
		if !math.IsNaN(w) {
			mean += w
			n++
		}
	}
	mean /= max(n, 1)
	miss, all := 0.0, 0.0
	for i, w := range log {
		if math.IsNaN(w) {
			continue
		}
		miss += (w - model[i]) * (w - model[i])
		all += (w - mean) * (w - mean)
	}
	if all > 0 {
		share = 1 - miss/all
	}
	return math.Sqrt(miss / max(n, 1)), share
}

package criteria

import (
	"math"
	"time"
)

const (
	// sensitivity is how much louder than the net load a sound controller may make
	// the grid flow at any frequency: the peak Ms of its sensitivity function. 3 is
	// the figure with which a prototype of the plant had no false alarm on nine
	// stable cases and caught 95 to 100 % of hunting ones.
	sensitivity = 3
	// suspiciousW is the least amplitude that is suspicious, from the same
	// prototype; the criterion's own bound, where it is larger.
	suspiciousW = 100
	// blockLength samples of spectralStep make a block of 256 s.
	blockLength  = 512
	spectralStep = 500 * time.Millisecond
	// slowestBin is the lowest frequency looked at, in periods per block. Slower
	// ones are too close to what one step of load or of a command leaves.
	slowestBin = 4
	// successive blocks, each half over the one before, must show the same
	// frequency: one event lies within two of them and no more.
	successive = 3
)

// spectralExcess compares the spectrum of the grid flow G with that of the net
// load N, in blocks of 512 means over 0.5 s (256 s; or of single steps where those
// are longer), each half over the one before, without their mean and under a Hann
// window. With the power S[k] of three bins round k, as the square of the
// amplitude of a sinusoid there,
//
//	S[k] = (4 / N)^2 sum over |j - k| <= 1 of |X[j]|^2 / 1.5
//	a[k] = sqrt(max(0, S_G[k] - Ms^2 S_N[k])), Ms = 3
//
// (1.5 bins are the noise bandwidth of the window). A controller that answers the
// net load, however slowly, does not make it louder than Ms times, so what is left
// was made by the batteries: by themselves, or by sampling a load that is faster
// than they look, which this cannot tell apart. The persistent excess is
//
//	max over k of min over the last three blocks of a[k], k give or take 1
//
// Periods from 1/4 of a block down to about 2 s are seen; faster ones are damped
// by the mean over 0.5 s.
type spectralExcess struct {
	fft    spectrum
	length int64 // steps of a mean
	left   int64
	sumG   float64
	sumN   float64
	g, n   []float64
	filled int
	work   []complex128
	past   [successive][]float64 // a[k] of the last blocks, oldest first
	blocks int

	// What the last block showed.
	persistentW float64
	periodS     float64
	stepS       float64
}

func newSpectralExcess(t *timeline) spectralExcess {
	length := max(1, t.ticks(spectralStep))
	e := spectralExcess{
		fft: newSpectrum(blockLength), length: length, left: length, stepS: t.at(length),
		g: make([]float64, blockLength), n: make([]float64, blockLength), work: make([]complex128, blockLength),
	}
	for i := range e.past {
		e.past[i] = make([]float64, blockLength/2)
	}
	return e
}

// observe takes one step and says whether a block was completed, and there were
// enough.
func (e *spectralExcess) observe(gridW, netLoadW float64) bool {
	e.sumG += gridW
	e.sumN += netLoadW
	e.left--
	if e.left > 0 {
		return false
	}
	e.g[e.filled], e.n[e.filled] = e.sumG/float64(e.length), e.sumN/float64(e.length)
	e.sumG, e.sumN, e.left = 0, 0, e.length
	e.filled++
	if e.filled < blockLength {
		return false
	}
	e.analyse()
	copy(e.g, e.g[blockLength/2:])
	copy(e.n, e.n[blockLength/2:])
	e.filled = blockLength / 2
	return e.blocks >= successive
}

// analyse works one block out.
func (e *spectralExcess) analyse() {
	var meanG, meanN float64
	for i := range e.g {
		meanG += e.g[i]
		meanN += e.n[i]
	}
	meanG, meanN = meanG/blockLength, meanN/blockLength
	for i, w := range e.fft.hann {
		e.work[i] = complex(w*(e.g[i]-meanG), w*(e.n[i]-meanN))
	}
	e.fft.transform(e.work)

	oldest := e.past[0]
	copy(e.past[:], e.past[1:])
	e.past[successive-1] = oldest
	e.blocks++
	const scale = 4.0 / blockLength * 4.0 / blockLength / 1.5
	g0, n0 := powers(e.work, slowestBin-1)
	g1, n1 := powers(e.work, slowestBin)
	for k := slowestBin; k < blockLength/2-1; k++ {
		g2, n2 := powers(e.work, k+1)
		e.past[successive-1][k] = math.Sqrt(max(0, scale*(g0+g1+g2-sensitivity*sensitivity*(n0+n1+n2))))
		g0, n0, g1, n1 = g1, n1, g2, n2
	}
	e.persist()
}

// persist finds the excess that all blocks kept show.
func (e *spectralExcess) persist() {
	e.persistentW = 0
	best := 0
	for k := slowestBin; k < blockLength/2-1; k++ {
		least := e.past[successive-1][k]
		for _, a := range e.past[:successive-1] {
			least = min(least, max(a[k-1], a[k], a[k+1]))
		}
		if least > e.persistentW {
			e.persistentW, best = least, k
		}
	}
	if best > 0 {
		e.periodS = e.period(best)
	}
}

// period is that of the sinusoid at a peak, between the bins: under a Hann window
// the larger neighbour is r times the peak where it lies (2 r - 1) / (r + 1) bins
// off.
func (e *spectralExcess) period(k int) float64 {
	at := func(k int) float64 { g, _ := powers(e.work, k); return g }
	for at(k+1) > at(k) && k+2 < blockLength/2 {
		k++
	}
	for at(k-1) > at(k) && k > 2 {
		k--
	}
	side, neighbour := 1.0, at(k+1)
	if at(k-1) > neighbour {
		side, neighbour = -1, at(k-1)
	}
	r := math.Sqrt(neighbour / max(at(k), math.SmallestNonzeroFloat64))
	return blockLength * e.stepS / (float64(k) + side*max(0, (2*r-1)/(r+1)))
}

// span is how many steps the blocks kept reach back.
func (e *spectralExcess) span() int64 { return e.length * blockLength * (successive + 1) / 2 }

package physics

import (
	"fmt"
	"math"
)

// The weighting filter of a 60 W incandescent lamp at 230 V and the eye behind it. Source: IEC
// 61000-4-15 clause 5.5, from memory (check value FL-12); confirmed by the response that the meter
// must have to sinusoidal and rectangular changes (FL-09 to FL-11).
const (
	lampGain   = 1.74802
	lampLambda = 2 * math.Pi * 4.05981
	lampW1     = 2 * math.Pi * 9.15494
	lampW2     = 2 * math.Pi * 2.27979
	lampW3     = 2 * math.Pi * 1.22535
	lampW4     = 2 * math.Pi * 21.9
)

// section is a filter of second order, by the bilinear transform of (b0 + b1 s + b2 s^2) / (a0 + a1
// s + a2 s^2), in transposed direct form II.
type section struct {
	b0, b1, b2, a1, a2 float64
	m1, m2             float64
}

func newSection(b, a [3]float64, sampleHz float64) section {
	k := 2 * sampleHz // s = k (1 - z^-1) / (1 + z^-1)
	at := func(c [3]float64) (z0, z1, z2 float64) {
		c1, c2 := float64(c[1]*k), float64(c[2]*k*k)
		return c[0] + c1 + c2, 2 * (c[0] - c2), c[0] - c1 + c2
	}
	n0, n1, n2 := at(b)
	d0, d1, d2 := at(a)
	return section{b0: n0 / d0, b1: n1 / d0, b2: n2 / d0, a1: d1 / d0, a2: d2 / d0}
}

func (s *section) step(x float64) float64 {
	y := float64(s.b0*x) + s.m1
	s.m1 = float64(s.b1*x) - float64(s.a1*y) + s.m2
	s.m2 = float64(s.b2*x) - float64(s.a2*y)
	return y
}

// gain2 is the squared magnitude of the response at the angle w [rad per sample].
func (s *section) gain2(w float64) float64 {
	s1, c1 := sincos(w)
	s2, c2 := sincos(2 * w)
	square := func(k0, k1, k2 float64) float64 {
		re := k0 + float64(k1*c1) + float64(k2*c2)
		im := float64(k1*s1) + float64(k2*s2)
		return float64(re*re) + float64(im*im)
	}
	return square(s.b0, s.b1, s.b2) / square(1, s.a1, s.a2)
}

// Flickermeter turns a voltage's samples into the instantaneous flicker sensation Pinst and, of its
// distribution, Pst: square, 0.05 Hz high-pass, 35 Hz sixth-order Butterworth low-pass, the lamp's
// weighting filter, square, 300 ms low-pass; scaled so that a sinusoidal change of 0.25 % at 8.8 Hz
// gives a largest Pinst of 1. Not modelled: the slow gain control at the input, for which the given
// nominal voltage stands; other lamps and 60 Hz. The filters need about a minute before Pinst means
// anything. Source: IEC 61000-4-15, blocks 1 to 5; check values FL-09 to FL-13.
type Flickermeter struct {
	Pinst float64

	perV2   float64    // 1 / nominal^2
	filters [6]section // in front of the second square
	smooth  section
	scale   float64
	levels  [levelOctaves * levelsPerOctave]int64 // how often Pinst was in each class
	samples int64
}

// Classes of Pinst: each octave from 2^levelLow on has levelsPerOctave equal ones, narrower than 1.6 %.
const (
	levelsPerOctave = 64
	levelOctaves    = 64
	levelLow        = -32
)

// NewFlickermeter makes a meter for samples at a rate [Hz] of a supply with a nominal phase voltage
// [V]. The rate is at least 800 Hz: the square of 50 Hz and its filter need room.
func NewFlickermeter(nominalV, sampleHz float64) (*Flickermeter, error) {
	if !(sampleHz >= 800) || !(nominalV > 0) {
		return nil, fmt.Errorf("a flickermeter for %g V at %g samples per second; it needs more than 0 V and at least 800", nominalV, sampleHz)
	}
	m := &Flickermeter{perV2: 1 / (nominalV * nominalV)}
	m.filters[0] = newSection([3]float64{0, 1, 0}, [3]float64{2 * math.Pi * 0.05, 1, 0}, sampleHz)
	s, c := sincos(math.Pi * 35 / sampleHz)
	corner := 2 * sampleHz * s / c // so that the bilinear transform puts it at 35 Hz
	for i := range 3 {
		_, damping := sincos(math.Pi * float64(2*i+1) / 12) // poles 15, 45 and 75 degrees off the negative axis
		m.filters[1+i] = newSection([3]float64{corner * corner, 0, 0}, [3]float64{corner * corner, 2 * damping * corner, 1}, sampleHz)
	}
	m.filters[4] = newSection([3]float64{0, lampGain * lampW1, 0}, [3]float64{lampW1 * lampW1, 2 * lampLambda, 1}, sampleHz)
	m.filters[5] = newSection([3]float64{1, 1 / lampW2, 0}, [3]float64{1, 1/lampW3 + 1/lampW4, 1 / (lampW3 * lampW4)}, sampleHz)
	m.smooth = newSection([3]float64{1, 0, 0}, [3]float64{1, 0.3, 0}, sampleHz)
	// A change d sin(w t) of the mean square leaves amplitude d |H|, whose square is (d |H|)^2 (1 -
	// cos 2 w t) / 2.
	w := 2 * math.Pi * 8.8 / sampleHz
	const d = 0.0025
	amplitude2 := d * d
	for i := range m.filters {
		amplitude2 *= m.filters[i].gain2(w)
	}
	m.scale = 2 / (amplitude2 * (1 + math.Sqrt(m.smooth.gain2(2*w))))
	return m, nil
}

// Step takes the next sample of the voltage [V] and returns Pinst.
func (m *Flickermeter) Step(voltageV float64) float64 {
	x := voltageV * voltageV * m.perV2
	for i := range m.filters {
		x = m.filters[i].step(x)
	}
	m.Pinst = max(0, m.scale*m.smooth.step(x*x))
	m.levels[levelOf(m.Pinst)]++
	m.samples++
	return m.Pinst
}

// levelOf is the class of a value; the ends take what is beyond them.
func levelOf(v float64) int {
	fraction, exponent := math.Frexp(v) // v = fraction x 2^exponent, 0.5 <= fraction < 1
	if v <= 0 || exponent <= levelLow {
		return 0
	}
	if exponent > levelLow+levelOctaves {
		return levelOctaves*levelsPerOctave - 1
	}
	return (exponent-levelLow-1)*levelsPerOctave + int((fraction-0.5)*2*levelsPerOctave)
}

// levelFloor is where a class begins.
func levelFloor(i int) float64 {
	return math.Ldexp(float64(levelsPerOctave+i%levelsPerOctave)/(2*levelsPerOctave), i/levelsPerOctave+levelLow+1)
}

// Restart forgets the distribution, as at the beginning of an interval of 10 min; the filters go on.
func (m *Flickermeter) Restart() { m.levels, m.samples = [len(m.levels)]int64{}, 0 }

// Exceeded is the level of Pinst that was exceeded for a share of the interval so far [%].
func (m *Flickermeter) Exceeded(percent float64) float64 {
	want := float64(percent / 100 * float64(m.samples))
	above := 0.0
	for i := len(m.levels) - 1; i >= 0; i-- {
		n := float64(m.levels[i])
		if above+n >= want && n > 0 {
			floor := levelFloor(i)
			return floor + float64((levelFloor(i+1)-floor)*(1-(want-above)/n))
		}
		above += n
	}
	return 0
}

// Pst is the short-term flicker of the interval so far, which is 10 min by the standard.
func (m *Flickermeter) Pst() float64 { return PstOfLevels(m.Exceeded) }

// PstOfLevels is Pst of the levels of Pinst that are exceeded for given shares of 10 min [%]:
//
//	sqrt(0.0314 P0.1 + 0.0525 P1s + 0.0657 P3s + 0.28 P10s + 0.08 P50s)
//
// with s for the means of neighbouring levels. Source: IEC 61000-4-15; the weights from memory
// (check value FL-13), confirmed by FL-09.
func PstOfLevels(exceeded func(percent float64) float64) float64 {
	mean := func(shares ...float64) float64 {
		sum := 0.0
		for _, s := range shares {
			sum += exceeded(s)
		}
		return sum / float64(len(shares))
	}
	return math.Sqrt(float64(0.0314*exceeded(0.1)) + float64(0.0525*mean(0.7, 1, 1.5)) + float64(0.0657*mean(2.2, 3, 4)) +
		float64(0.28*mean(6, 8, 10, 13, 17)) + float64(0.08*mean(30, 50, 80)))
}

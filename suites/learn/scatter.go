package learn

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
)

// Scatter is how far the figures of the complaint are the site's, and not chance: the scenario is run again and again with what it
// cannot hold. The noise of the inverters' own meters is in no log, nor are the figures that the log does not tell; loops that
// run into their limits may swing otherwise with every other noise, and then no scenario can be asked to swing as the log does.
type Scatter struct {
	Period, Amplitude Estimate // of the oscillation [s], [W]
	CirculatingWh     Estimate
}

// Swing says whether whoever knows the devices can be asked for the oscillation that the log shows.
func (s *Scatter) Swing() bool { return s.Period.Identifiable && s.Amplitude.Identifiable }

const (
	scatterRuns = 20 // of which the second and the last but one bound nine in ten

	mostPeriod      = 0.05 // half of what nine runs in ten may span [1]
	mostAmplitude   = 0.15
	mostCirculating = 0.10
)

// scatter runs the closed loops of the scenario with noise on their meters, as much as the logged ones show, and with other
// figures for what the log does not tell. What it tells is drawn too, as far as the course leaves it open: explained is the share of the
// log's variance that the scenario explains, and the rest of the variance is what the intervals keep of theirs. A scenario that follows the
// log holds its figures fast; one that slips against it knows them no better than their intervals.
func (r *Result) scatter(explained float64) Scatter {
	rec := &r.Window.Record
	chance := rand.New(rand.NewPCG(1, 0x6c6561726e))
	noiseW := usualW(r.rest) / math.Sqrt2
	open := math.Sqrt(1 - min(max(explained, 0), 1))
	var periods, amplitudes, energies []float64
	for n := range scatterRuns + 1 {
		devices := slices.Clone(r.devices)
		c := newClosed(rec, r.rest, r.jumps, devices)
		if n > 0 { // the first is the scenario itself
			for i, l := range r.Units {
				devices[i] = l.drawn(devices[i], open, chance)
			}
			c.noise = func() float64 { return noiseW * chance.NormFloat64() }
		}
		c.play(len(c.rest))
		s := c.seen(len(c.rest))
		periods = append(periods, s.Oscillation.PeriodS)
		amplitudes = append(amplitudes, s.Oscillation.AmplitudeW)
		energies = append(energies, s.CirculatingWh)
	}
	s := Scatter{
		Period:        scattered(periods, mostPeriod, "s"),
		Amplitude:     scattered(amplitudes, mostAmplitude, "W"),
		CirculatingWh: scattered(energies, mostCirculating, "Wh"),
	}
	if !r.told() {
		for _, e := range []*Estimate{&s.Period, &s.Amplitude, &s.CirculatingWh} {
			e.Identifiable, e.Why = false, "the log does not tell the gains, times and offsets of all inverters"
		}
	}
	return s
}

// told says whether the log tells what the loops' movement depends on most.
func (r *Result) told() bool {
	for _, l := range r.Units {
		if !l.Lateness.Identifiable || !l.Gain.Identifiable || !l.Offset.Identifiable {
			return false
		}
	}
	return r.Cause == Native
}

// drawn is the device with other figures: what the log does not tell as far off as a default may be, the rest by a share of what its
// intervals say. A largest power that was not seen may be larger; a smaller one would have shown.
func (l *Learned) drawn(d Device, open float64, chance *rand.Rand) Device {
	sd := l.deviations()
	var x [tuned]float64
	for p := range x {
		x[p] = open * sd[p] * chance.NormFloat64()
	}
	x[tunePhase] = 0
	untold := func(p int, e Estimate, draw float64) {
		if !e.Identifiable {
			x[p] = sd[p] * draw
		}
	}
	untold(tuneRamp, l.Ramp, chance.NormFloat64())
	untold(tuneCharge, l.ChargeLimit, math.Abs(chance.NormFloat64()))
	untold(tuneDischarge, l.DischargeLimit, math.Abs(chance.NormFloat64()))
	return d.move(x)
}

// scattered is the first of the figures, between the bounds that nine of ten of the others keep.
func scattered(v []float64, most float64, unit string) Estimate {
	value := v[0]
	slices.Sort(v[1:])
	e := Estimate{Value: value, Low: min(value, v[2]), High: max(value, v[len(v)-2])}
	e.Identifiable = e.Low > 0 && math.Log(e.High/e.Low) <= 2*most
	if !e.Identifiable {
		e.Why = fmt.Sprintf("with other noise on the meters, and other figures where the log leaves them open, the model gives %s to %s %s", figure(e.Low), figure(e.High), unit)
	}
	return e
}

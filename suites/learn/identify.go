package learn

import (
	"fmt"
	"math"
)

// quantile is how many standard deviations the 90 % interval reaches to each side.
const quantile = 1.6449

// Estimate is one figure with its 90 % interval.
type Estimate struct {
	Value, Low, High float64
	// Identifiable says that the log alone pins it down; else the value is a default that the log does not contradict.
	Identifiable bool
	Why          string // if not
}

func (e Estimate) holds(v float64) bool { return v >= e.Low && v <= e.High }

// Learned is what a log tells of one inverter.
type Learned struct {
	Name                        string
	Device                      Device
	Gain, Period, Refresh       Estimate
	Lateness                    Estimate  // dead time, the meter's latency and the lag together [s]
	Dead, Lag                   Estimate  // [s]
	Ramp                        Estimate  // [W/s]
	Offset                      Estimate  // of its meter against the logged one [W]
	most                        Estimate  // of the largest power that is fitted [W]
	Drive                       Estimate  // gain x offset, all that drift alone tells [W per sample]
	ChargeLimit, DischargeLimit Estimate  // [W]
	SigmaW                      float64   // what the model leaves unexplained from one value to the next [W]
	Native                      float64   // share of its quick movement that its own loop explains [1]
	Obeys                       float64   // the same of the command log; NaN without one [1]
	ModelW                      []float64 // its model, driven by the logged grid flow, at the samples [W]
}

// identify estimates the inverters of a record, which has no gaps.
func (w *workshop) identify(progress func(share float64)) []*Learned {
	n := float64(len(w.r.Units))
	for i := range w.r.Units {
		w.rough(i)
		progress(0.6 * float64(i+1) / n)
	}
	for k := range 2 {
		if k > 0 && w.tooQuick() {
			break // no search finds what is over between two values
		}
		w.place()
		for i := range w.r.Units {
			w.refine(i)
		}
		progress(0.8 + 0.1*float64(k))
	}
	for range mostRounds {
		if w.tooQuick() {
			break
		}
		before := w.score()
		for i := range w.r.Units {
			w.again(i)
		}
		w.place()
		for i := range w.r.Units {
			w.refine(i)
		}
		if w.score() > before-roundLead {
			break
		}
	}
	all := make([]*Learned, len(w.r.Units))
	for i := range w.r.Units {
		all[i] = w.conclude(i)
	}
	progress(1)
	return all
}

const (
	mostRounds = 3
	roundLead  = 100 // by how much a round must make the log more likely to be followed by one more: less is polish, in units of log-likelihood
)

func steepest(v []float64, stepS float64) float64 {
	most := 50.0
	for n := 1; n < len(v); n++ {
		if d := math.Abs(v[n]-v[n-1]) / stepS; d > most {
			most = d
		}
	}
	return most
}

// tooQuick says that a loop is done with a jump about when the next value is logged.
func (d *Device) tooQuick(stepS float64) bool { return stepS >= 2 && stepS > 0.65*d.PeriodS/d.Gain }

// conclude turns a fit into estimates. lead is by how much the rhythm beats the next one, in units of log-likelihood.
func (l *Learned) conclude(f *fitting, d Device, stepS, lead float64) {
	cov := f.covariance(d)
	// spread is a parameter's standard deviation: what the fit says, widened, and what no fit shows.
	spread := func(variance, blur float64) float64 { return math.Sqrt(widening*widening*variance + blur*blur) }
	around := func(v, s float64) Estimate { return Estimate{Value: v, Low: v - quantile*s, High: v + quantile*s} }
	byRatio := func(v, s float64) Estimate {
		return Estimate{Value: v, Low: v * math.Exp(-quantile*s), High: v * math.Exp(quantile*s)}
	}
	// A loop that is done within a sample or two, or powers that the model misses by far, are beyond the log.
	tooQuick := ""
	if d.tooQuick(stepS) {
		tooQuick = fmt.Sprintf("the loop corrects within %.2g s, and the log has a value each %g s", d.PeriodS/d.Gain, stepS)
	}
	judge := func(e Estimate, half, most float64, why string) Estimate {
		switch {
		case tooQuick != "":
			e.Why = tooQuick
		case !(half <= most):
			e.Why = why
		}
		e.Identifiable = e.Why == ""
		return e
	}
	little := "the log moves too little, or its values are too far apart"

	l.Period = Estimate{Value: d.PeriodS, Low: d.PeriodS, High: d.PeriodS}
	l.Refresh = Estimate{Value: d.RefreshS, Low: d.RefreshS, High: d.RefreshS}
	if d.RefreshS == d.PeriodS {
		l.Refresh.Low, l.Refresh.Why = 0, "a meter that is at least as quick as the loop cannot be told from one that is quicker"
	}
	l.Period = judge(l.Period, 6, lead, "another period explains the log about as well")
	if stepS >= 2 && d.PeriodS < 3*stepS {
		l.Period.Identifiable, l.Period.Why = false, fmt.Sprintf("a value each %g s does not show the steps of a loop of %g s", stepS, d.PeriodS)
	}
	l.Refresh.Identifiable = l.Period.Identifiable && l.Refresh.Why == ""

	s := spread(cov.At(atGain, atGain), gainBlur*math.Pow(stepS, 1.2))
	l.Gain = judge(byRatio(d.Gain/d.PeriodS, s), quantile*s, 0.15, little)
	s = spread(cov.At(atRamp, atRamp), 0.005)
	l.Ramp = byRatio(d.RampWps, s)
	l.Ramp = judge(l.Ramp, quantile*s, 0.10, "the output was hardly ever held back by a ramp")
	if l.Ramp.Identifiable && f.ramped(d.RampWps) < leastRamped {
		l.Ramp.Identifiable, l.Ramp.Why = false, "hardly a ramp lasted for two values of the log"
	}
	dead := cov.At(atDead, atDead)
	lag := d.LagS * d.LagS * cov.At(atLag, atLag)
	late := d.DeadS + d.LagS + (d.RefreshS-d.PeriodS)/2
	s = spread(dead+lag+2*d.LagS*cov.At(atDead, atLag), lateBlurPerS*stepS)
	l.Lateness = judge(around(late, s), quantile*s, 0.5, little)
	s = spread(dead, lateBlurPerS*stepS)
	l.Dead = judge(around(d.DeadS, s), quantile*s, 0.5, little)
	s = spread(lag, lateBlurPerS*stepS)
	l.Lag = judge(around(d.LagS, s), quantile*s, 0.5, little)
	l.Dead.Low, l.Lag.Low, l.Lateness.Low = max(l.Dead.Low, 0), max(l.Lag.Low, 0), max(l.Lateness.Low, 0)
	s = spread(offsetWidening*cov.At(atOffset, atOffset), offsetBlur*math.Pow(stepS, 1.5))
	l.Offset = judge(around(d.OffsetW, s), quantile*s, 3, little)
	s = spread(cov.At(atMost, atMost), limitBlur)
	l.most = judge(byRatio(d.mostW(), s), quantile*s, 0.15, little)
	if !l.Gain.Identifiable { // it was never seen, and follows from what the loop asked for
		l.most.Identifiable, l.most.Why = false, l.Gain.Why
	}
	// The drift tells gain x offset better than either.
	k := d.Gain / d.PeriodS
	v := k * k * (d.OffsetW*d.OffsetW*cov.At(atGain, atGain) + cov.At(atOffset, atOffset) + 2*d.OffsetW*cov.At(atGain, atOffset))
	s = spread(max(v, 0), k*math.Hypot(d.OffsetW*gainBlur*math.Pow(stepS, 1.2), offsetBlur*math.Pow(stepS, 1.5)))
	l.Drive = around(k*d.OffsetW, s)
	l.Drive.Identifiable = quantile*s < max(0.25*math.Abs(l.Drive.Value), 0.5) &&
		quantile*gainBlur*math.Pow(stepS, 1.2) < 0.5 // where the gain may be off by half, so may the drift
	if !l.Drive.Identifiable {
		l.Drive.Why = little
	}
}

// leastRamped is how many values must lie in the midst of a ramp, for a ramp limit to be told from lag and gain.
const leastRamped = 2

// By how much intervals reach beyond what the fit says, so that they hold the truth as often as they claim: what happened between
// two values is filled in by a model, and its misses do not scatter. The figures are those that do so in the twin experiments
// (twin_test.go); they have no other source.
const (
	widening       = 2.0
	offsetWidening = 3.0   // of an offset's variance besides: it takes up what every misplaced jump leaves
	gainBlur       = 0.031 // of the gain at a value a second [1], growing with the 1.2th power of the step
	lateBlurPerS   = 0.09  // of times, for each second between two values [1]
	limitBlur      = 0.07  // of a largest power that was never seen [1]: a few cuts tell it, and each comes at its own moment
	offsetBlur     = 0.25  // [W] at a value a second, growing with the 1.5th power of the step
)

// ramped counts the values in the midst of a ramp: those before and after which the power moved as fast as it could.
func (f *fitting) ramped(rampWps float64) int {
	n := 0
	for i := range f.stretches {
		s := &f.stretches[i]
		for k := 1; k+1 < len(s.powerW); k++ {
			a, b := s.powerW[k]-s.powerW[k-1], s.powerW[k+1]-s.powerW[k]
			if a*b > 0 && min(math.Abs(a), math.Abs(b)) > 0.9*rampWps*s.stepS {
				n++
			}
		}
	}
	return n
}

package physics

import "math"

// FlickerLimits are the limits for equipment on the reference impedance. Source: IEC 61000-3-3
// clause 5 (secondary); check value GV-22.
const (
	FlickerDcPercent   = 3.3 // steady change of voltage
	FlickerDmaxPercent = 4.0 // largest change; 6 or 7 % for manual or rare switching, from memory (GV-23)
	FlickerPstLimit    = 1.0
	FlickerPltLimit    = 0.65
	// For at most so long may a change stay over 3.3 % [s]; IEC 61000-3-3:2013 clause 5, from memory (GV-23).
	FlickerOverDcS = 0.5
)

// shortTermS is the interval of one Pst [s].
const shortTermS = 600.0

// FlickerTime is the flicker impression time [s] of one relative change of voltage d [%]: 2.3 (F
// d)^3.2, with F the shape factor, 1 for a step. Source: IEC 61000-3-3 annex B (analytical method);
// check value FL-01.
func FlickerTime(shape, dPercent float64) float64 { return 2.3 * pow(shape*math.Abs(dPercent), 3.2) }

// PstOfFlickerTime is Pst of an interval of 10 min in which the impression times [s] of all changes
// sum up to seconds: (sum / 600)^(1/3.2). Source: IEC 61000-3-3 annex B; check value FL-01.
func PstOfFlickerTime(seconds float64) float64 { return pow(seconds/shortTermS, 1/3.2) }

// FlickerChangePercent is the step d [%] that, repeated so many times a minute, gives Pst = 1 by
// the analytical method. Check value FL-06.
func FlickerChangePercent(changesPerMinute float64) float64 {
	return pow(shortTermS/(2.3*changesPerMinute*shortTermS/60), 1/3.2)
}

// Plt is the long-term flicker of the Pst of twelve intervals, the cube mean: (sum Pst^3 /
// N)^(1/3). Source: IEC 61000-4-15; check value FL-07.
func Plt(pst []float64) float64 {
	sum := 0.0
	for _, v := range pst {
		sum += float64(v * v * v)
	}
	return pow(sum/float64(len(pst)), 1.0/3)
}

// StepFlicker estimates Pst of a voltage by the analytical method as the ticks go: each change of
// the voltage from the end of one tick to that of the next counts as a step of its own if it is at
// least ThresholdPercent, and a change that goes on in the same direction is one step as long as it
// lasts. Valid for changes that are rarer than about one a second; the flickermeter has no such
// limit.
type StepFlicker struct {
	Pst float64 // of the last whole interval of 10 min

	nominalV  float64
	threshold float64
	ticks     int64 // per interval
	count     int64
	started   bool
	was       float64
	from      float64 // where the change under way began [V]
	seconds   float64
}

// NewStepFlicker makes an estimator for a nominal phase voltage [V] that leaves out changes under a
// threshold [%], to be stepped by ticks of stepS [s].
func NewStepFlicker(nominalV, thresholdPercent, stepS float64) StepFlicker {
	return StepFlicker{nominalV: nominalV, threshold: thresholdPercent, ticks: wholeTicks(shortTermS, stepS)}
}

// Step takes the voltage at the end of a tick [V] and says whether an interval ended with it.
func (f *StepFlicker) Step(voltageV float64) bool {
	if !f.started {
		f.started, f.was, f.from = true, voltageV, voltageV
	}
	if (voltageV-f.was)*(f.was-f.from) <= 0 { // it stands still or turns back: the change under way is over
		f.end()
	}
	f.was = voltageV
	if f.count++; f.count < f.ticks {
		return false
	}
	f.end()
	f.Pst = PstOfFlickerTime(f.seconds)
	f.count, f.seconds = 0, 0
	return true
}

func (f *StepFlicker) end() {
	if d := 100 * math.Abs(f.was-f.from) / f.nominalV; d >= f.threshold {
		f.seconds += float64(FlickerTime(1, d))
	}
	f.from = f.was
}

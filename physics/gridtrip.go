package physics

import "math"

// TripKind says what a TripStage watches.
type TripKind uint8

// A stage watches the lowest or the highest of the phase voltages, or the frequency.
const (
	UnderVoltage TripKind = iota
	OverVoltage
	UnderFrequency
	OverFrequency
)

// String gives the kind in words.
func (k TripKind) String() string {
	return [...]string{"under-voltage", "over-voltage", "under-frequency", "over-frequency"}[k&3]
}

// TripStage is one line of an interface protection's table: it trips once the quantity has been
// beyond the threshold for the whole delay without a break.
type TripStage struct {
	Kind      TripKind
	Threshold float64 // [V] or [Hz]; the threshold itself does not trip
	DelayS    float64 // [s]
}

// TripStagesG98G99 is a table for a low-voltage connection at a nominal phase voltage [V]. Source:
// ENA EREC G98 and G99, from memory (check value GC-43): a starting point for a site's own
// parameters, not a limit to judge by.
func TripStagesG98G99(nominalV float64) []TripStage {
	return []TripStage{
		{OverVoltage, 1.14 * nominalV, 1.0},
		{OverVoltage, 1.19 * nominalV, 0.5},
		{UnderVoltage, 0.80 * nominalV, 2.5},
		{OverFrequency, 52, 0.5},
		{UnderFrequency, 47.5, 20},
		{UnderFrequency, 47, 0.5},
	}
}

// G98ScopeA is the largest current per phase [A] that falls under EREC G98. Check value GC-42.
const G98ScopeA = 16.0

// ExportExcursionS is the time within which an export limitation scheme brings export back under
// its limit [s]. Source: ENA EREC G100, from memory (check value GC-44).
const ExportExcursionS = 5.0

// maxTripStages bounds a relay, so that it is a value without allocation.
const maxTripStages = 12

// TripRelay watches the supply by a table of stages, each with its own timer. A trip is latched
// until Reset.
type TripRelay struct {
	Tripped bool
	Stage   int // which stage tripped; -1 before

	stages [maxTripStages]TripStage
	limit  [maxTripStages]int64 // delay in ticks
	beyond [maxTripStages]int64 // ticks beyond the threshold so far
	count  int
}

// NewTripRelay makes a relay, to be stepped by ticks of stepS [s]. It takes the first twelve stages.
func NewTripRelay(stages []TripStage, stepS float64) TripRelay {
	r := TripRelay{Stage: -1, count: min(len(stages), maxTripStages)}
	for i := range r.count {
		r.stages[i] = stages[i]
		r.limit[i] = max(wholeTicks(stages[i].DelayS, stepS), 1)
	}
	return r
}

// Step watches the lowest and highest phase voltage [V] and the frequency [Hz] of one tick, and
// says whether the relay has tripped. A stage trips at the end of the tick in which its delay has
// passed.
func (r *TripRelay) Step(lowV, highV, hz float64) bool {
	for i := range r.count {
		s := &r.stages[i]
		var out bool
		switch s.Kind {
		case UnderVoltage:
			out = lowV < s.Threshold
		case OverVoltage:
			out = highV > s.Threshold
		case UnderFrequency:
			out = hz < s.Threshold
		case OverFrequency:
			out = hz > s.Threshold
		}
		if !out {
			r.beyond[i] = 0
			continue
		}
		if r.beyond[i]++; r.beyond[i] >= r.limit[i] && !r.Tripped {
			r.Tripped, r.Stage = true, i
		}
	}
	return r.Tripped
}

// Reset lets a tripped relay watch anew, with all timers at 0.
func (r *TripRelay) Reset() {
	r.Tripped, r.Stage = false, -1
	r.beyond = [maxTripStages]int64{}
}

// EnterServiceParams say when a device may connect, or connect again.
type EnterServiceParams struct {
	LowV, HighV   float64 // window of the phase voltages [V]
	LowHz, HighHz float64 // window of the frequency [Hz]
	DelayS        float64 // time within both windows before connecting [s]
	RampPerS      float64 // rise of the permitted power afterwards [1 of the rating per s]; 0 means at once
}

// EnterService1547 is IEEE Std 1547-2018 table 4 for 60 Hz at a nominal phase voltage [V]: 0.917 to
// 1.05 of nominal, 59.5 to 60.1 Hz for 300 s. Check value GC-17.
func EnterService1547(nominalV float64) EnterServiceParams {
	return EnterServiceParams{LowV: 0.917 * nominalV, HighV: 1.05 * nominalV, LowHz: 59.5, HighHz: 60.1, DelayS: 300}
}

// ReconnectAustralia sets the delay and the ramp of AS/NZS 4777.2:2020: not before 60 s, then 16.67
// % of the rating per minute (check value GC-41). The windows are the caller's.
func ReconnectAustralia(windows EnterServiceParams) EnterServiceParams {
	windows.DelayS, windows.RampPerS = 60, 0.1667/60
	return windows
}

// EnterService is the runtime state: it counts the time within the windows, and then lets power rise.
type EnterService struct {
	Connected bool
	Permitted float64 // largest power now [1 of the rating]; 0 while disconnected

	par        EnterServiceParams
	stepS      float64
	delayTicks int64
	waited     int64 // ticks within the windows without a break
	risen      int64 // ticks since connecting
}

// NewEnterService makes a device that is connected with its full power already, to be stepped by
// ticks of stepS [s].
func NewEnterService(p EnterServiceParams, stepS float64) EnterService {
	return EnterService{Connected: true, Permitted: 1, par: p, stepS: stepS, delayTicks: wholeTicks(p.DelayS, stepS)}
}

// Step watches one tick of the supply: the lowest and highest phase voltage [V] and the frequency
// [Hz]. tripped is whether protection keeps the device off; once it no longer does, the waiting
// begins. The windows matter only while disconnected: what disconnects is the protection.
func (e *EnterService) Step(lowV, highV, hz float64, tripped bool) {
	p := &e.par
	if tripped {
		e.Connected, e.Permitted, e.waited, e.risen = false, 0, 0, 0
		return
	}
	if !e.Connected {
		if lowV < p.LowV || highV > p.HighV || hz < p.LowHz || hz > p.HighHz {
			e.waited = 0
			return
		}
		if e.waited++; e.waited < e.delayTicks {
			return
		}
		e.Connected = true
		e.Permitted = 0
		if p.RampPerS == 0 {
			e.Permitted = 1
		}
		return
	}
	if e.Permitted < 1 {
		e.risen++
		e.Permitted = math.Min(1, p.RampPerS*e.stepS*float64(e.risen))
	}
}

package criteria

import (
	"fmt"
	"math"
	"time"
)

// Monitor is one criterion at work. Observe and Breach allocate nothing; Result may be
// called at any time, changes nothing, and judges the run so far as if it ended
// there.
type Monitor interface {
	Name() string
	Observe(s *Sample)
	// Breach is the tick at which it was first violated, as far as that is known
	// already; 0 while it is not.
	Breach() int64
	Result() Result
}

const (
	// roundingW is far above the rounding of a power balance (about 1e-9 W) and
	// far below anything that a meter could see.
	roundingW = 1e-6
	// maxWindow bounds the memory of a monitor: 360 thousand samples of 10 ms.
	maxWindow = time.Hour
	// largestSignal is far above any site's power in W; beyond it a sum of
	// energies could overflow.
	largestSignal = 1e15
)

// timeline checks that samples are sound and consecutive, and turns ticks into
// seconds. Time is tick x step and never a running sum.
type timeline struct {
	stepS  float64
	first  int64
	last   int64
	begun  bool
	faults int
}

func newTimeline(step time.Duration) (timeline, error) {
	if step <= 0 {
		return timeline{}, fmt.Errorf("step is %v, but must be above zero", step)
	}
	return timeline{stepS: step.Seconds(), last: math.MinInt64}, nil
}

// accept takes the sample's tick. signal is what the monitor makes of the
// sample; it is NaN when anything that went into it was.
func (t *timeline) accept(s *Sample, signal float64) bool {
	// What is not so is rare, and is not worth a place in each caller.
	if s.Tick != t.last+1 || s.StepS != t.stepS || !(math.Abs(signal) <= largestSignal) {
		return t.examine(s, signal)
	}
	t.last++
	return true
}

// examine is what accept does with the first sample and with odd ones.
func (t *timeline) examine(s *Sample, signal float64) bool {
	sound := math.Abs(signal) <= largestSignal && math.Abs(s.StepS-t.stepS) < 1e-9
	if t.begun {
		sound = sound && s.Tick == t.last+1
	} else {
		t.begun, t.first = true, s.Tick
	}
	t.last = s.Tick
	if !sound {
		t.faults++
	}
	return sound
}

// at is the time at the end of the step.
func (t *timeline) at(tick int64) float64 { return float64(float64(tick) * t.stepS) }

// ticks is how many whole steps fit into d.
func (t *timeline) ticks(d time.Duration) int64 {
	return int64(math.Floor(d.Seconds()/t.stepS + 1e-6))
}

// samples is how many samples a closed window of length d holds.
func (t *timeline) samples(d time.Duration) int { return int(t.ticks(d)) + 1 }

// blame turns the result into "undetermined" when the bench fed unsound samples:
// a bench fault is never reported as the controller's failure.
func (t *timeline) blame(r Result) Result {
	if t.faults == 0 {
		return r
	}
	r.Status, r.Passed, r.Avoidable = Undetermined, false, false
	for i := range r.Clauses {
		r.Clauses[i].Status = Undetermined
	}
	r.note("bench fault: %d samples were not finite numbers, not consecutive, or of another step length or number of parts", t.faults)
	return r
}

// nan is the signal of a sample that is not what the monitor was made for.
var nan = math.NaN()

func finite(x float64) bool { return x-x == 0 }

// wantPositive and wantDuration name the parameter, what was found and what
// would be right.
func wantPositive(criterion, field string, x float64) error {
	if x > 0 && finite(x) {
		return nil
	}
	return fmt.Errorf("%s: %s is %v, but must be a finite number above zero", criterion, field, x)
}

func wantNotNegative(criterion, field string, x float64) error {
	if x >= 0 && finite(x) {
		return nil
	}
	return fmt.Errorf("%s: %s is %v, but must be a finite number of at least zero", criterion, field, x)
}

func wantDuration(criterion, field string, d, least time.Duration) error {
	if d >= least && d <= maxWindow {
		return nil
	}
	return fmt.Errorf("%s: %s is %v, but must lie between %v and %v", criterion, field, d, least, maxWindow)
}

func wantFraction(criterion, field string, x float64) error {
	if x > 0 && x <= 1 {
		return nil
	}
	return fmt.Errorf("%s: %s is %v, but must be a fraction above 0 and at most 1", criterion, field, x)
}

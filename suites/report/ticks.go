package report

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// scale is a value axis with round ticks.
type scale struct {
	lo, hi   float64
	ticks    []float64
	decimals int
}

// newScale returns the axis that holds lo to hi with ticks 1, 2 or 5 times a
// power of ten apart, at most limit+1 of them, and begins and ends on a tick.
func newScale(lo, hi float64, limit int) scale {
	if size := math.Max(math.Abs(lo), math.Abs(hi)); !(hi-lo > 1e-6*size) { // Level, for any eye.
		pad := math.Max(math.Abs(lo)*0.1, 1)
		lo, hi = lo-pad, lo+pad
	}
	step := roundStep((hi - lo) / float64(max(limit, 1)))
	first, last := math.Floor(lo/step+1e-9), math.Ceil(hi/step-1e-9)
	s := scale{lo: first * step, hi: last * step, decimals: max(0, -int(math.Floor(math.Log10(step)+1e-9)))}
	for i := first; i <= last; i++ {
		s.ticks = append(s.ticks, i*step+0)
	}
	return s
}

// roundStep returns the least of 1, 2, 5 times a power of ten that is not
// under v.
func roundStep(v float64) float64 {
	power := math.Pow(10, math.Floor(math.Log10(v)))
	for _, m := range []float64{1, 2, 5} {
		if m*power >= v*(1-1e-9) {
			return m * power
		}
	}
	return 10 * power
}

func (s scale) label(v float64) string {
	text := strconv.FormatFloat(v, 'f', s.decimals, 64)
	if v == 0 || strings.Trim(text, "-0.") == "" {
		return "0"
	}
	return strings.Replace(text, "-", "−", 1)
}

// timeSteps are the tick spacings that a clock reader expects, in seconds.
var timeSteps = []float64{0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 10800, 21600,
	43200, 86400, 172800, 604800}

// timeTicks returns round moments from..to, at most limit of them, and their
// spacing.
func timeTicks(from, to float64, limit int) (ticks []float64, step float64) {
	step = timeSteps[len(timeSteps)-1]
	for _, s := range timeSteps {
		if (to-from)/s <= float64(max(limit, 1)) {
			step = s
			break
		}
	}
	for (to-from)/step > float64(max(limit, 1)) {
		step *= 2
	}
	for i := math.Ceil(from/step - 1e-9); i*step <= to+step*1e-9; i++ {
		ticks = append(ticks, i*step+0) // +0 turns -0 into 0.
	}
	return ticks, step
}

// elapsed returns how times since the start read at the spacing, and the
// unit that heads their row.
func elapsed(step, to float64) (unit string, label func(float64) string) {
	switch {
	case step < 60 && to <= 120:
		return "s", func(t float64) string { return strconv.FormatFloat(math.Round(t*10)/10, 'f', -1, 64) }
	case step < 1 && to <= 3*3600:
		return "min:s", func(t float64) string {
			tenth := int(math.Round(t * 10))
			return fmt.Sprintf("%d:%02d.%d", tenth/600, tenth/10%60, tenth%10)
		}
	case step < 60 && to > 3*3600:
		return "h:min:s", func(t float64) string {
			s := int(math.Round(t))
			return fmt.Sprintf("%d:%02d:%02d", s/3600, s/60%60, s%60)
		}
	case step < 60:
		return "min:s", func(t float64) string { s := int(math.Round(t)); return fmt.Sprintf("%d:%02d", s/60, s%60) }
	case to <= 3*3600:
		return "min", func(t float64) string { return strconv.Itoa(int(math.Round(t / 60))) }
	}
	return "h:min", func(t float64) string {
		m := int(math.Round(t / 60))
		return fmt.Sprintf("%d:%02d", m/60, m%60)
	}
}

// localLabel returns the local clock at simulated time t.
func localLabel(start time.Time, t, step float64) string {
	at := localAt(start, t)
	if step < 60 || start.Second() != 0 {
		return at.Format("15:04:05")
	}
	return at.Format("15:04")
}

func localAt(start time.Time, t float64) time.Time {
	return start.Add(time.Duration(math.Round(t*1000)) * time.Millisecond)
}

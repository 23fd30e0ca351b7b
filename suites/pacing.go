package suites

import (
	"fmt"
	"math"
	"time"

	"kilter/emulator"
	"kilter/suites/verdict"
)

// pacing tells how well the plant kept its pace; nil where it followed no wall clock.
func pacing(pace emulator.Pace, l emulator.Lateness) *verdict.Pacing {
	if l.Steps == 0 {
		return nil
	}
	ms := func(d time.Duration) verdict.Number {
		return verdict.Of(math.Round(float64(d)/float64(time.Microsecond)) / 1000)
	}
	p := &verdict.Pacing{
		Factor: verdict.Of(float64(pace)), StepMS: ms(l.Step),
		LateP50MS: ms(l.P50), LateP99MS: ms(l.P99), LateWorstMS: ms(l.Worst), FellBehind: l.FellBehind(),
	}
	if p.FellBehind {
		p.Note = fmt.Sprintf("the plant fell behind pace %s: one step in a hundred began more than %s ms late, and a step takes %s ms; "+
			"what hinges on timing is in doubt: use a slower pace, or stepped", pace, p.LateP99MS, p.StepMS)
	}
	return p
}

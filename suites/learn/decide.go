package learn

import (
	"fmt"
	"math"
	"strings"
)

// Cause says what makes the inverters move.
type Cause uint8

// The causes.
const (
	Native     Cause = iota // the inverters' own loops
	Controller              // commands
	Unknown                 // neither explains what was logged
)

// String gives the cause's words.
func (c Cause) String() string { return [...]string{"native", "controller", "unknown"}[c] }

const (
	nativeShare = 0.6  // of the quick movement that the own loop must explain
	stillW      = 10.0 // a unit that moves less than this from sample to sample has no cause to be looked for
)

// decide says whether the inverters' own loops make what was logged, in words too.
func decide(r *Record, all []*Learned) (Cause, string) {
	var native, commanded, open []string
	for i, l := range all {
		if quick(r.Units[i].PowerW) < stillW*stillW/4 {
			continue
		}
		switch {
		case !math.IsNaN(l.Obeys) && l.Obeys > max(l.Native, nativeShare):
			commanded = append(commanded, l.Name)
		case l.Native >= nativeShare:
			native = append(native, l.Name)
		default:
			open = append(open, l.Name)
		}
	}
	share := func(l *Learned) string { return fmt.Sprintf("%s %.0f %%", l.Name, 100*max(l.Native, 0)) }
	var shares []string
	for _, l := range all {
		shares = append(shares, share(l))
	}
	figures := "the own loop explains, of what each moves from value to value: " + strings.Join(shares, ", ")
	switch {
	case len(open) > 0:
		return Unknown, fmt.Sprintf("Neither its own loop nor a logged command explains what %s does (%s). A controller is likely in the loop: "+
			"log what it commands, and name that column under command in the column map, or run the scenario with the controller itself: "+
			"kilter check scenario.yaml --controller 'COMMAND'.", strings.Join(open, " and "), figures)
	case len(commanded) > 0:
		return Controller, fmt.Sprintf("%s follows its command: the controller is in the loop. The scenario leaves it without a loop of its own; "+
			"reproduce with the controller itself: kilter check scenario.yaml --controller 'COMMAND'.", strings.Join(commanded, " and "))
	case len(native) == 0:
		return Native, "The inverters hardly move in this window; nothing is asked of any loop."
	}
	return Native, "The inverters' own loops make it: no controller is needed to reproduce it (" + figures + ")."
}

// quick is the mean square of the changes from value to value [W^2].
func quick(v []float64) float64 {
	sum, n := 0.0, 0.0
	for i := 1; i < len(v); i++ {
		if d := v[i] - v[i-1]; !math.IsNaN(d) {
			sum += d * d
			n++
		}
	}
	return sum / max(n, 1)
}

// explained is the share of the changes from value to value that residuals leave out.
func explained(v, residuals []float64) float64 {
	q := quick(v)
	if q == 0 {
		return 0
	}
	return 1 - quick(residuals)/q
}

// obeys is the share of a unit's changes that its command explains, the dead time and the lag chosen to do so best.
func obeys(u *Unit, stepS float64) float64 {
	best := math.Inf(-1)
	residual := make([]float64, len(u.PowerW))
	for _, lag := range []float64{0, 0.3, 0.6, 1, 2, 4} {
		keep := 0.0
		if lag > 0 {
			keep = math.Exp(-stepS / lag)
		}
		for delay := range max(2, int(5/stepS)) {
			y := u.PowerW[0]
			for n, w := range u.PowerW {
				c := u.CommandW[max(n-delay, 0)]
				y = c + (y-c)*keep
				residual[n] = w - y
			}
			best = max(best, explained(u.PowerW, residual))
		}
	}
	return best
}

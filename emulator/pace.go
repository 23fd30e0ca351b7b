package emulator

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// Pace says what makes simulated time move. A positive one is how many seconds of it pass in one
// second of the wall clock.
type Pace float64

// The paces beside those that follow the wall clock faster or slower than it runs.
const (
	Free    Pace = 0  // as fast as it can, with nobody on the wire
	Real    Pace = 1  // with the wall clock
	Stepped Pace = -1 // only while every controller waits
	Follow  Pace = -2 // by the declared poll period, when every controller has begun its next poll
)

// Between these a factor makes sense: no machine keeps the fastest.
const slowest, fastest = 0.001, 1e6

// String gives the pace's word on the command line and in the bench file.
func (p Pace) String() string {
	switch p {
	case Free:
		return "free"
	case Real:
		return "real"
	case Stepped:
		return "stepped"
	case Follow:
		return "follow"
	}
	return "x" + strconv.FormatFloat(float64(p), 'g', -1, 64)
}

// paceWords explain the paces to who has given none of them.
const paceWords = "must be stepped (time moves while the controller waits), real (with the wall clock), " +
	"x and a number, such as x20 (20 times as fast), or follow (a poll period for each poll of a controller that knows nothing of the bench)"

// ParsePace reads a pace's word.
func ParsePace(s string) (Pace, error) {
	for _, p := range []Pace{Stepped, Real, Follow} {
		if s == p.String() {
			return p, nil
		}
	}
	digits, times := strings.CutPrefix(s, "x")
	n, err := strconv.ParseFloat(digits, 64)
	switch {
	case err == nil && !times, err != nil && numberBefore(s, "x"):
		return 0, fmt.Errorf("pace %q: the x stands before the number, as in x%s", s, strings.TrimSuffix(s, "x"))
	case !times || err != nil:
		return 0, fmt.Errorf("pace %q: %s", s, paceWords)
	case !(n >= slowest && n <= fastest):
		return 0, fmt.Errorf("pace %q: x needs a number from %g to %d; as fast as the machine allows is stepped", s, slowest, int(fastest))
	}
	return Pace(n), nil
}

// numberBefore tells whether a text is a number with the given ending.
func numberBefore(s, ending string) bool {
	digits, has := strings.CutSuffix(s, ending)
	_, err := strconv.ParseFloat(digits, 64)
	return has && err == nil
}

// wall is how long simulated time of a length takes on the wall clock.
func (p Pace) wall(simulated time.Duration) time.Duration {
	return time.Duration(float64(simulated) / float64(p))
}

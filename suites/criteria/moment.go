package criteria

import (
	"fmt"
	"math"
	"strings"
)

// moment writes a simulated time or a duration as h:min:s, with tenths only
// where there are any.
func moment(s float64) string {
	ms := int64(math.Round(s * 1000))
	text := fmt.Sprintf("%d:%02d:%02d", ms/3_600_000, ms/60_000%60, ms/1000%60)
	if rest := ms % 1000; rest != 0 {
		text += strings.TrimRight(fmt.Sprintf(".%03d", rest), "0")
	}
	return text
}

// counted is a number of things in words.
func counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

package report

import (
	"math"
	"strings"

	"kilter/suites/verdict"
)

// blocks are the levels of a sparkline, which a terminal shows that has Unicode.
var blocks = []rune("▁▂▃▄▅▆▇█")

// Sparkline draws powers [W] in so many characters, with their range: each is the greatest distance from zero of its part
// of the run, so that a spike shows.
func Sparkline(values []float64, width int) string {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, v := range values {
		if plottable(v) {
			lo, hi = math.Min(lo, v), math.Max(hi, v)
		}
	}
	if !(lo <= hi) || width < 1 {
		return ""
	}
	var line strings.Builder
	for i := range min(width, len(values)) {
		n := min(width, len(values))
		far, known := 0.0, false
		for _, v := range values[i*len(values)/n : (i+1)*len(values)/n] {
			if plottable(v) && (!known || math.Abs(v) > math.Abs(far)) {
				far, known = v, true
			}
		}
		switch {
		case !known:
			line.WriteByte(' ')
		case hi-lo < 1: // within a watt nothing has moved
			line.WriteRune(blocks[0])
		default:
			line.WriteRune(blocks[int(math.Round((far-lo)/(hi-lo)*float64(len(blocks)-1)))])
		}
	}
	return line.String() + "  " + Minus(verdict.Quantity(verdict.Of(math.Round(lo)), "W")) + " to " + Minus(verdict.Quantity(verdict.Of(math.Round(hi)), "W"))
}

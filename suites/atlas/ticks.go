package atlas

import (
	"math"
	"strconv"
	"strings"

	"gonum.org/v1/plot"
)

// evenTicks are labelled ticks at multiples of 1, 2 or 5 times a power of ten, at most so many.
type evenTicks struct{ most int }

// Ticks implements plot.Ticker.
func (e evenTicks) Ticks(low, high float64) []plot.Tick {
	step := math.Pow(10, math.Floor(math.Log10((high-low)/float64(e.most))))
	for _, times := range []float64{1, 2, 5, 10} {
		if (high-low)/(step*times) <= float64(e.most) {
			step *= times
			break
		}
	}
	digits := max(0, int(-math.Floor(math.Log10(step)+1e-9)))
	var ticks []plot.Tick
	for n := math.Ceil(low/step - 1e-9); n*step <= high+1e-9*step; n++ {
		ticks = append(ticks, plot.Tick{Value: n * step, Label: tickLabel(n*step, digits)})
	}
	return ticks
}

func tickLabel(v float64, digits int) string {
	text := strconv.FormatFloat(v, 'f', digits, 64)
	if strings.Trim(text, "-0.") == "" {
		return "0"
	}
	return strings.ReplaceAll(text, "-", "−")
}

// logTicks are labelled ticks at powers of ten, and at 2 and 5 times them where there are few.
type logTicks struct{}

// Ticks implements plot.Ticker.
func (logTicks) Ticks(low, high float64) []plot.Tick {
	few := math.Log10(high/low) < 2.6
	var ticks []plot.Tick
	for decade := math.Floor(math.Log10(low)); decade <= math.Log10(high); decade++ {
		for digit := 1; digit <= 9; digit++ {
			v := float64(digit) * math.Pow(10, decade)
			if v < low*(1-1e-9) || v > high*(1+1e-9) {
				continue
			}
			t := plot.Tick{Value: v}
			if digit == 1 || few && (digit == 2 || digit == 5) {
				t.Label = strconv.FormatFloat(v, 'f', max(0, int(-decade)), 64)
			}
			ticks = append(ticks, t)
		}
	}
	return ticks
}

// names are ticks at 0, 1, 2 ... with the names of categories.
type names []string

// Ticks implements plot.Ticker.
func (n names) Ticks(_, _ float64) []plot.Tick {
	var ticks []plot.Tick
	for i, name := range n {
		ticks = append(ticks, plot.Tick{Value: float64(i), Label: name})
	}
	return ticks
}

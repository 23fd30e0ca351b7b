package learn

import (
	"fmt"
	"math"

	"kilter/suites/fieldlog"
)

const (
	mostSamples  = 1200 // of the window that is fitted
	leastSamples = 60
	bridgedGap   = 3 // samples that may be missing in a row
)

// Window is the part of a log that is fitted and reproduced.
type Window struct {
	From, To int // samples of the log, To not included
	Record   Record
}

// choose takes the part of the log in which the inverters move most against their own recent mean, and in which nothing is missing
// for long.
func choose(l *fieldlog.Log) (Window, error) {
	n := l.Samples()
	length := min(n, mostSamples)
	whole := make([]bool, n)
	activity := make([]float64, n)
	missing := 0
	for i := range n {
		known := !math.IsNaN(l.Grid.Values[i])
		for _, u := range l.Units {
			known = known && !math.IsNaN(u.Power.Values[i])
		}
		if known {
			missing = 0
		} else {
			missing++
		}
		whole[i] = missing <= bridgedGap
	}
	reach := max(5, int(60/l.StepS))
	for _, u := range l.Units {
		highpass(u.Power.Values, reach, func(i int, w float64) { activity[i] += math.Abs(w) })
	}
	best, at, size := -1.0, -1, 0
	sum, from := 0.0, 0
	for i := range n {
		if !whole[i] {
			sum, from = 0, i+1
			continue
		}
		sum += activity[i]
		if i-from >= length {
			sum -= activity[from]
			from++
		}
		if have := i - from + 1; have >= leastSamples && sum > best {
			best, at, size = sum, from, have
		}
	}
	if at < 0 {
		return Window{}, fmt.Errorf("%s: found no %d samples in a row at which grid and inverters are known, wanted a log with fewer gaps", l.File, leastSamples)
	}
	w := Window{From: at, To: at + size, Record: Record{StepS: l.StepS}}
	cut := func(v []float64) []float64 { out, _ := bridge(v[w.From:w.To], bridgedGap); return ends(out) }
	w.Record.GridW = cut(l.Grid.Values)
	for _, u := range l.Units {
		x := Unit{Name: u.Name, PowerW: cut(u.Power.Values)}
		if u.SOC != nil {
			x.SOC = u.SOC.Values[w.From:w.To]
		}
		if u.Command != nil {
			x.CommandW = cut(u.Command.Values)
		}
		w.Record.Units = append(w.Record.Units, x)
	}
	return w, nil
}

// ends fills what is missing at either end with the nearest value.
func ends(v []float64) []float64 {
	for i := 1; i < len(v); i++ {
		if math.IsNaN(v[i]) {
			v[i] = v[i-1]
		}
	}
	for i := len(v) - 2; i >= 0; i-- {
		if math.IsNaN(v[i]) {
			v[i] = v[i+1]
		}
	}
	return v
}

// highpass gives each value less the mean of those up to reach samples around it.
func highpass(v []float64, reach int, take func(i int, w float64)) {
	sum, n := 0.0, 0
	add := func(i int, sign float64) {
		if i >= 0 && i < len(v) && !math.IsNaN(v[i]) {
			sum += sign * v[i]
			n += int(sign)
		}
	}
	for i := range min(reach, len(v)) {
		add(i, 1)
	}
	for i := range v {
		add(i+reach, 1)
		add(i-reach-1, -1)
		if !math.IsNaN(v[i]) && n > 0 {
			take(i, v[i]-sum/float64(n))
		}
	}
}

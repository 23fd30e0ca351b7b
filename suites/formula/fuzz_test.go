package formula_test

import (
	"errors"
	"testing"
	"time"

	"kilter/suites/formula"
)

// allocations is how many memory allocations a call makes on average.
func allocations(runs int, f func()) float64 { return testing.AllocsPerRun(runs, f) }

// FuzzParse has a formula be any text: it is refused with a place inside the text, or judged without a panic.
func FuzzParse(f *testing.F) {
	for _, src := range []string{
		"always (grid > 18 kW implies eventually within 2 s (grid <= 18 kW))", "not (north > 500 W until within 1 min south < -500 W)",
		"always from 5 min abs(north + south) / 2 < 120 W per 1 kW", "eventually in 3 s..4 s grid > 4.5 kW", "((((", "1..2", "grid < é",
	} {
		f.Add(src)
	}
	f.Fuzz(func(t *testing.T, src string) {
		got, err := formula.Parse(src, bakery)
		if err != nil {
			var at *formula.Error
			if !errors.As(err, &at) || at.Column < 1 || at.Column > len([]rune(src))+1 || at.Wanted == "" {
				t.Fatalf("%q: %v", src, err)
			}
			return
		}
		m, err := got.Monitor(time.Hour) // few windows fit, and none is long
		if err != nil {
			return
		}
		for range 3 {
			m.Observe([]float64{1, 2, 3, 0.5})
		}
		m.Outcome()
	})
}

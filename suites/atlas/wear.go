package atlas

import (
	"fmt"
	"math"
	"slices"

	"kilter/physics"
)

// rainflow counts the cycles of the standard's example.
func rainflow() (Picture, error) {
	history := Curve{Name: "the record"}
	for i, v := range rainflowSeries {
		history.add(float64(i), v)
	}
	cycles := physics.CountCycles(rainflowSeries)
	var all []Check
	for i, want := range rainflowCycles {
		got := [3]float64{math.NaN(), math.NaN(), math.NaN()}
		if i < len(cycles) {
			got = [3]float64{cycles[i].Range, cycles[i].Mean, cycles[i].Count}
		}
		for k, part := range []string{"range", "mean", "count"} {
			all = append(all, Check{ID: "RF-01", What: fmt.Sprintf("cycle %d, %s", i+1, part), Value: want[k], Model: got[k], Mark: Published, X: nan})
		}
	}
	count := func(size float64) float64 {
		sum := 0.0
		for _, c := range cycles {
			if c.Range == size {
				sum += c.Count
			}
		}
		return sum
	}
	totals := rainflowTotals.against(1, func(at []float64) float64 { return count(at[0]) }).named("cycles of range")
	bars, names := make([]float64, 10), make([]string, 10)
	for i := range bars {
		bars[i], names[i] = count(float64(i)), fmt.Sprint(i)
	}
	all = append(all, totals...)
	variation := 0.0
	for i := range len(rainflowSeries) - 1 {
		variation += math.Abs(rainflowSeries[i+1] - rainflowSeries[i])
	}
	counted := 0.0
	for _, c := range cycles {
		counted += 2 * c.Range * c.Count
	}
	all = append(all, Check{ID: "RF-07", What: "twice the sum of range × count", Value: 46, Model: counted, Mark: Recomputed, X: nan},
		Check{ID: "RF-07", What: "total variation", Value: 46, Model: variation, Mark: Recomputed, X: nan})
	return Picture{
		ID: "rainflow", Title: "Rainflow counting of battery cycles", Checks: all,
		Panels: []Panel{
			{X: Axis{Label: "turning point"}, Y: Axis{Label: "the record’s value"}, Curves: []Curve{history}},
			{X: Axis{Label: "range of the cycle", Names: slices.Clip(names)}, Y: Axis{Label: "cycles counted", Min: 0, Max: 1.9}, Bars: bars},
		},
		Formula: "with X the range just ended and Y the one before: count Y as a cycle where X ≥ Y, as half a cycle where Y begins the record",
		Source:  "ASTM E1049-85 (2011) clause 5.4.4, figure 6, by the test data of an open-source rainflow library; RF-07 is an identity.",
	}, nil
}

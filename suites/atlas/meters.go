package atlas

import (
	"fmt"

	"kilter/physics"
)

// ctLimits are the error limits of current transformers.
func ctLimits() (Picture, error) {
	var ratio, phase []Curve
	var all []Check
	for i, c := range ctClasses {
		ratio = append(ratio, logLine("class "+c.name, i, 1, 120, 400, func(percent float64) float64 { r, _ := physics.CTErrorLimit(c.class, percent); return r }))
		if c.rows[0][2] > 0 {
			phase = append(phase, logLine("", i, 1, 120, 400, func(percent float64) float64 { _, m := physics.CTErrorLimit(c.class, percent); return m }))
		}
		for k, r := range c.rows {
			percent, minutes := physics.CTErrorLimit(c.class, r[0])
			what := fmt.Sprintf("class %s at %g %%", c.name, r[0])
			all = append(all, Check{ID: c.id, What: what + ", ratio", Value: r[1], Model: percent, Unit: "%", X: r[0], Y: r[1], Silent: k > 0})
			if r[2] > 0 {
				all = append(all, Check{ID: c.id, What: what + ", phase", Value: r[2], Model: minutes, Unit: "′", Panel: 1, X: r[0], Y: r[2], Silent: k > 0})
			}
		}
	}
	current := Axis{Label: "current, % of the rated one", Log: true, Min: 0.9, Max: 135}
	return Picture{
		ID: "ct-limits", Title: "Accuracy classes of current transformers", Checks: all,
		Panels: []Panel{
			{X: current, Y: Axis{Label: "ratio error limit, ±%", Min: 0, Max: 5.6}, Curves: ratio},
			{X: current, Y: Axis{Label: "phase error limit, ±′", Min: 0, Max: 200}, Curves: phase},
		},
		Formula: "limits at 1, 5, 20, 50, 100 and 120 % of the rated current; straight lines between",
		Source:  "IEC 61869-2 table 201, by a page that reprints it (secondary; CT-01 to CT-05). The lines between the standard’s points are common practice.",
	}, nil
}

// displacement is the error of power that a phase displacement makes.
func displacement() (Picture, error) {
	all := displacementRows.against(0, func(at []float64) float64 { return 100 * physics.PhaseErrorOfPower(at[1], at[0]) }).silent().named("φ °; δ ′:")
	var curves []Curve
	for i, minutes := range []float64{30, 60, 90} {
		for _, sign := range []float64{1, -1} {
			c := line(figure(minutes, 2)+"′ leading", i, 0, 86, 344, func(phi float64) float64 { return 100 * physics.PhaseErrorOfPower(sign*minutes, phi) })
			if sign < 0 {
				c.Name, c.Dashed = figure(minutes, 2)+"′ lagging", true
			}
			curves = append(curves, c)
		}
	}
	return Picture{
		ID: "displacement", Title: "Power error by phase displacement", Checks: all,
		Panels:  []Panel{{X: Axis{Label: "load angle φ, ° (lagging)", Min: 0, Max: 90}, Y: Axis{Label: "error of active power, %", Min: -13, Max: 13}, Curves: curves}},
		Formula: "error = cos(φ − δ)/cos φ − 1",
		Source:  "Trigonometry; the points are CT-07, recomputed.",
	}, nil
}

// wiring are the faults of a three-phase meter.
func wiring() (Picture, error) {
	faults := []struct {
		id, name string
		watts    float64
		change   func(w *physics.CTWiring)
	}{
		{"CT-20", "none", 6900, func(*physics.CTWiring) {}},
		{"CT-21", "1 reversed", 2300, func(w *physics.CTWiring) { w[1].Reversed = true }},
		{"CT-22", "all reversed", -6900, func(w *physics.CTWiring) { w[0].Reversed, w[1].Reversed, w[2].Reversed = true, true, true }},
		{"CT-23", "2 swapped", 0, func(w *physics.CTWiring) { w[0], w[1] = w[1], w[0] }},
		{"CT-24", "all rotated", -3450, func(w *physics.CTWiring) { w[0], w[1], w[2] = w[1], w[2], w[0] }},
	}
	var names []string
	var bars []float64
	var all []Check
	for i, f := range faults {
		w := physics.RightWiring()
		f.change(&w)
		reading := w.Measure([3]float64{2300, 2300, 2300}, [3]float64{})
		total := reading[0] + reading[1] + reading[2]
		names, bars = append(names, f.name), append(bars, total/1000)
		all = append(all, Check{ID: f.id, What: "transformers: " + f.name, Value: f.watts, Model: total, Tolerance: 1e-9, Unit: "W", Mark: Recomputed, X: float64(i), Y: f.watts / 1000})
	}
	registers := physics.MeterPhases([3]float64{2000, -500, -1000})
	all = append(all, Check{ID: "CT-25", What: "net import of +2000, −500, −1000 W", Value: 500, Model: registers.NetImportW, Unit: "W", Mark: Recomputed, X: nan},
		Check{ID: "CT-25", What: "import register of the phases", Value: 2000, Model: registers.PhaseImportW, Unit: "W", Mark: Recomputed, X: nan},
		Check{ID: "CT-25", What: "export register of the phases", Value: 1500, Model: registers.PhaseExportW, Unit: "W", Mark: Recomputed, X: nan})
	return Picture{
		ID: "wiring", Title: "Faults of a three-phase meter’s wiring", Checks: all,
		Panels:  []Panel{{X: Axis{Label: "fault of the current transformers", Names: names}, Y: Axis{Label: "total reading, kW", Min: -8.6, Max: 8.6}, Bars: bars}},
		Formula: "reading of input k = P·cos a + Q·sin a,   a = δ − 120°·(c − k), with c the conductor that its transformer clasps",
		Source:  "Trigonometry of three-phase power; CT-20 to CT-25 recomputed. The load is 230 V, 10 A per phase at unity power factor: 6900 W.",
	}, nil
}

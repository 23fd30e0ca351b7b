package atlas

import "kilter/physics"

// inlet is the voltage at the end of the supply's impedance.
func inlet() (Picture, error) {
	exact := func(at []float64) float64 { return physics.VoltageAtInlet(230, at[1], at[2], at[0], at[3]) }
	approx := func(at []float64) float64 {
		return physics.VoltageChangeApprox(230, physics.Impedance{ResistanceOhm: at[1], ReactanceOhm: at[2]}, at[0], at[3])
	}
	all := inletRows.against(0, exact).scaled(1e-3, 1).named("exact, P W; R; X Ω; Q var:")
	errors := inletApproxRows.against(0, approx).undrawn().named("approximate change, P W; R; X Ω; Q var:")
	all = append(all, errors...)
	all = append(all, inletSimulatorRows.against(0, exact).undrawn().named("circuit simulator, P W; R; X Ω; Q var:")...)
	for _, x := range [][3]float64{{10, 226.0138, 226.01382701}, {16, 223.6358, 223.63577531}, {32, 217.3473, 217.34727972}} {
		v := physics.VoltageUnderPhasor(230, physics.ReferenceImpedance(), x[0], 0)
		all = append(all, Check{ID: "GV-12", What: "constant current of " + figure(x[0], 2) + " A", Value: x[1], Model: v, Tolerance: 1e-4, Unit: "V", Mark: Recomputed, X: nan},
			Check{ID: "GV-12", What: "circuit simulator, constant current of " + figure(x[0], 2) + " A", Value: x[2], Model: v, Tolerance: 1e-6, Unit: "V", Mark: Recomputed, X: nan})
	}
	volts := func(name string, hue int, r, x, q float64) Curve {
		return line(name, hue, -11, 9, 200, func(kw float64) float64 { return exact([]float64{1000 * kw, r, x, q}) })
	}
	rough := func(hue int, r, x float64) Curve {
		return line("", hue, -11, 9, 200, func(kw float64) float64 { return 230 + approx([]float64{1000 * kw, r, x, 0}) }).dashed()
	}
	first, second := rough(0, 0.40, 0.25), rough(1, 0.24, 0.15)
	first.Name, second.Name = "its textbook approximation", "its approximation"
	return Picture{
		ID: "inlet", Title: "Voltage at the inlet under load and export", Checks: all,
		Panels: []Panel{{X: Axis{Label: "power at the inlet, kW (import positive)"}, Y: Axis{Label: "voltage, V"}, Curves: []Curve{
			volts("0.40 + j0.25 Ω, exact", 0, 0.40, 0.25, 0), first, volts("0.24 + j0.15 Ω, exact", 1, 0.24, 0.15, 0), second,
			volts("0.40 + j0.25 Ω with 2180 var absorbed", 2, 0.40, 0.25, 2180), volts("0.24 + j0.15 Ω with 2180 var absorbed", 3, 0.24, 0.15, 2180)}}},
		Formula: "V² = b + √(b² − |Z|²·(P² + Q²)),  b = Vs²/2 − (P·R + Q·X);   approximation ΔV = −(P·R + Q·X)/Vs",
		Source:  "Two-node load flow in closed form; IEC 60725 reference impedance (GV-20, secondary; its phase part from memory, GV-21); GV-01 to GV-12 recomputed by phasors and by a circuit simulator.",
		Note:    "The approximation understates a drop and overstates a rise. " + thevenin,
	}, nil
}

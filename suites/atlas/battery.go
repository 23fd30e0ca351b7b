package atlas

import (
	"math"

	"kilter/physics"
)

const thevenin = "The simulator is an independent circuit simulator, ngspice 39; its netlist and results are kept with the tests of package physics."

// pulse discharges a cell with 10 A for a minute.
func pulse() (Picture, error) {
	par := physics.CellParams{OCV: physics.Curve{{X: 0, Y: 3.7}}, CapacityAh: 1000, R0Ohm: 0.010, R1Ohm: 0.015, C1F: 2000,
		MaxV: 4.2, MinV: 2.5, MaxChargeA: 50, MaxDischA: 50, InitialSOC: 0.5}
	const tickS, pulseTicks, ticks = 0.01, 6000, 18000
	cell, err := physics.NewCell(par, tickS)
	if err != nil {
		return Picture{}, err
	}
	// A tick of a nanosecond shows either edge of the pulse.
	edge := func(branchV, amps float64) (float64, error) {
		c, err := physics.NewCell(par, 1e-9)
		c.BranchV = branchV
		c.Step(amps)
		return c.VoltageV, err
	}
	first, err := edge(0, -10)
	if err != nil {
		return Picture{}, err
	}
	curve := Curve{Name: "terminal voltage of the cell, 10 ms ticks"}
	curve.add(-5, par.OCV.At(par.InitialSOC))
	curve.add(0, par.OCV.At(par.InitialSOC))
	curve.add(0, first)
	volts, last := make([]float64, ticks+1), 0.0
	for n := 1; n <= ticks; n++ {
		amps := -10.0
		if n > pulseTicks {
			amps = 0
		}
		cell.Step(amps)
		volts[n] = cell.VoltageV
		if n%50 == 0 {
			curve.add(float64(n)*tickS, cell.VoltageV)
		}
		if n == pulseTicks {
			if last, err = edge(cell.BranchV, 0); err != nil {
				return Picture{}, err
			}
			curve.add(float64(n)*tickS, last)
		}
	}
	at := func(at []float64) float64 { return volts[int(math.Round(at[0]/tickS))] }
	all := pulseRows.against(0, at).named("end of the tick at, s:")
	all = append(all, pulseEdgeRows.against(0, func(at []float64) float64 {
		if at[0] == 0 {
			return first
		}
		return last
	}).named("just after, s:")...)
	all = append(all, pulseSimulatorRows.against(0, at).undrawn().named("circuit simulator at, s:")...)
	return Picture{
		ID: "pulse", Title: "Discharge pulse of a battery cell", Checks: all,
		Panels:  []Panel{{X: Axis{Label: "time, s"}, Y: Axis{Label: "terminal voltage, V"}, Curves: []Curve{curve}}},
		Formula: "v = OCV + I·R0 + v1,   dv1/dt = (I·R1 − v1)/(R1·C1);   3.7 V, 10 mΩ, 15 mΩ, 2000 F, I = −10 A for 60 s",
		Source:  "Thevenin equivalent, common practice; BA-20 to BA-27 recomputed by closed form, by an ODE solver and by a circuit simulator.",
		Note:    thevenin,
	}, nil
}

// chargePhases charges a cell with constant current and then constant voltage.
func chargePhases() (Picture, error) {
	const tickS = 0.1
	plan := physics.PlanCharge(3, 1.2, 100, 0.002, 50, 4.15, 5, 0.5)
	cell, err := physics.NewCell(physics.CellParams{OCV: physics.Curve{{X: 0, Y: 3}, {X: 1, Y: 4.2}}, CapacityAh: 100, R0Ohm: 0.002,
		MaxV: 4.15, MinV: 2.5, MaxChargeA: 50, MaxDischA: 50, CutoffA: 5, InitialSOC: 0.5}, tickS)
	if err != nil {
		return Picture{}, err
	}
	current, voltage, soc := Curve{Name: "the cell, stepped"}, Curve{}, Curve{}
	switchS, switchSOC, endS := 0.0, 0.0, 0.0
	for n := 0; !cell.Full && n < 100_000; n++ {
		amps := cell.ChargeLimitA()
		if amps < 50 && switchS == 0 {
			switchS, switchSOC = float64(n)*tickS, cell.SOC
		}
		cell.Step(amps)
		endS = float64(n+1) * tickS
		if n%100 == 0 && amps > 0 {
			minute := endS / 60
			current.add(minute, amps)
			voltage.add(minute, cell.VoltageV)
			soc.add(minute, 100*cell.SOC)
		}
	}
	none := nan
	minutes := func(s float64) float64 { return s / 60 }
	all := []Check{
		{ID: "BA-40", What: "SOC where constant voltage begins", Value: 0.875, Model: plan.VoltageFromSOC, Tolerance: 1e-12, Mark: Recomputed, Panel: 2, X: minutes(2700), Y: 87.5},
		{ID: "BA-41", What: "time at constant current", Value: 2700, Model: plan.CurrentS, Tolerance: 1e-9, Unit: "s", Mark: Recomputed, X: minutes(2700), Y: 50},
		{ID: "BA-42", What: "time constant at constant voltage", Value: 600, Model: plan.TimeConstantS, Tolerance: 1e-12, Unit: "s", Mark: Recomputed, X: none},
		{ID: "BA-43", What: "time at constant voltage", Value: 1381.551055796, Model: plan.VoltageS, Tolerance: 1e-8, Unit: "s", Mark: Recomputed, X: minutes(4081.551055796), Y: 5},
		{ID: "BA-44", What: "SOC at the end", Value: 0.95, Model: plan.EndSOC, Tolerance: 1e-12, Mark: Recomputed, Panel: 2, X: minutes(4081.551055796), Y: 95},
		{ID: "BA-40", What: "the same, stepped", Value: 0.875, Model: switchSOC, Tolerance: 1e-4, Unit: "(stepped)", Mark: Recomputed, X: none},
		{ID: "BA-41", What: "the same, stepped by 0.1 s", Value: 2700, Model: switchS, Tolerance: 0.27, Unit: "s (stepped)", Mark: Recomputed, X: none},
		{ID: "BA-43", What: "the end, stepped by 0.1 s", Value: 4081.551037, Model: endS, Tolerance: 0.41, Unit: "s (stepped)", Mark: Recomputed, X: none},
		{ID: "BA-44", What: "the same, stepped", Value: 0.95, Model: cell.SOC, Tolerance: 1e-4, Unit: "(stepped)", Mark: Recomputed, X: none},
	}
	return Picture{
		ID: "cc-cv", Title: "Charging at constant current, then constant voltage", Checks: all,
		Panels: []Panel{
			{X: Axis{Label: "time, min"}, Y: Axis{Label: "current, A", Min: 0, Max: 58}, Curves: []Curve{current}},
			{X: Axis{Label: "time, min"}, Y: Axis{Label: "terminal voltage, V"}, Curves: []Curve{voltage}},
			{X: Axis{Label: "time, min"}, Y: Axis{Label: "state of charge, %"}, Curves: []Curve{soc}},
		},
		Formula: "OCV = 3.0 + 1.2·SOC V, 100 Ah, 2 mΩ: 50 A until 4.15 V, then i decays with τ = R·Q/k = 600 s to 5 A",
		Source:  "Closed form of a linear OCV behind a resistance; BA-40 to BA-44 recomputed.",
		Note:    "The stepped cell may differ from the closed form by 1e−4 or a few ticks, since the change of phase falls between ticks.",
	}, nil
}

// derating limits a battery's power by its temperature.
func derating() (Picture, error) {
	d := physics.Derating{
		Charge:    physics.Curve{{X: 0, Y: 0}, {X: 15, Y: 1}, {X: 45, Y: 1}, {X: 55, Y: 0}},
		Discharge: physics.Curve{{X: -20, Y: 0}, {X: 0, Y: 1}, {X: 50, Y: 1}, {X: 60, Y: 0}},
	}
	if err := d.Check(); err != nil {
		return Picture{}, err
	}
	limit := func(charging bool) func(float64) float64 {
		return func(tempC float64) float64 {
			c, g := d.Limits(tempC, 100, 100)
			if charging {
				return c
			}
			return g
		}
	}
	node := physics.NewThermalNode(20000, 0.5, 20, 10)
	warm, atTau := Curve{Name: "temperature of the battery", Hue: 2}, 0.0
	warm.add(0, node.TempC)
	for n := 1; n <= 4000; n++ {
		node.Step(100, 20)
		if n%20 == 0 {
			warm.add(float64(n)/360, node.TempC)
		}
		if n == 1000 {
			atTau = node.TempC
		}
	}
	hand := Group{Unit: "%", Tolerance: 1e-9, Mark: ByHand, Rows: []Row{{"mid", 50, []float64{7.5}}, {"mid", 50, []float64{50}}}}
	handOut := Group{Unit: "%", Tolerance: 1e-9, Mark: ByHand, Rows: []Row{{"mid", 50, []float64{-10}}, {"mid", 50, []float64{55}}}}
	all := hand.against(0, func(at []float64) float64 { return limit(true)(at[0]) }).silent().named("charging half way along a flank, °C:")
	all = append(all, handOut.against(0, func(at []float64) float64 { return limit(false)(at[0]) }).silent().named("discharging half way along a flank, °C:")...)
	all = append(all, Check{ID: "tau", What: "20 + 50(1 − 1/e) °C after one time constant", Value: 20 + 50*(1-math.Exp(-1)), Model: atTau,
		Tolerance: 1e-8, Unit: "°C", Mark: ByHand, Panel: 1, X: 10000. / 3600, Y: 20 + 50*(1-math.Exp(-1)), Silent: true})
	return Picture{
		ID: "derating", Title: "Derating of a battery by temperature", Checks: all,
		Panels: []Panel{
			{X: Axis{Label: "temperature, °C"}, Y: Axis{Label: "largest power, %"}, Curves: []Curve{
				line("charging", 0, -30, 70, 400, limit(true)), line("discharging", 1, -30, 70, 400, limit(false)).dashed()}},
			{X: Axis{Label: "time with 100 W of heat, h"}, Y: Axis{Label: "temperature, °C"}, Curves: []Curve{warm}},
		},
		Formula:       "P ≤ share(T)·Pmax,   C·dT/dt = P − (T − Ta)/R;   20 kJ/K, 0.5 K/W",
		Source:        "Common practice, no source. The flanks drawn are an example that a site file can replace.",
		WithoutPoints: "Derating is each maker's own; no standard tabulates it. The squares are worked out by hand.",
	}, nil
}

// reportedSOC is what a battery management system tells of its charge.
func reportedSOC() (Picture, error) {
	const gain, from = -0.08, 0.30
	told := physics.NewReportedSOC(physics.ReportParams{Resolution: 0.01, LagS: 60, GainError: gain, RecalibrateHigh: 0.98}, from, 1)
	truth, shown := Curve{Name: "true"}, Curve{Name: "told by the battery", Hue: 1}
	soc, before := from, math.NaN()
	const hour = 3600
	for s := 0; s <= 9*hour; s++ {
		switch {
		case s < 4*hour:
			soc = from + 0.7*float64(s)/(4*hour)
		case s >= 5*hour:
			soc = 1 - 0.8*float64(s-5*hour)/(4*hour)
		}
		was := told.Error
		told.Step(soc)
		if was != 0 && told.Error == 0 && math.IsNaN(before) {
			before = was
			truth.add(float64(s-1)/hour, 100*soc) // the jump is upright
			shown.add(float64(s-1)/hour, shown.Y[len(shown.Y)-1])
		}
		if s%60 == 0 {
			truth.add(float64(s)/hour, 100*soc)
			shown.add(float64(s)/hour, 100*told.Value)
		}
	}
	lagged := physics.NewReportedSOC(physics.ReportParams{LagS: 10}, 0.5, 1)
	for range 10 {
		lagged.Step(0.6)
	}
	jumpH := 4 * (0.98 - from) / 0.7
	all := []Check{
		{ID: "drift", What: "error just before the jump, −8 % of the 68 % counted", Value: 100 * gain * (0.98 - from), Model: 100 * before, Tolerance: 0.01, Unit: "%",
			Mark: ByHand, X: jumpH, Y: 98 + 100*gain*(0.98-from), Silent: true},
		{ID: "lag", What: "60 − 10/e % after one time constant", Value: 60 - 10*math.Exp(-1), Model: 100 * lagged.Value, Tolerance: 1e-9, Unit: "%", Mark: ByHand, X: nan},
	}
	return Picture{
		ID: "reported-soc", Title: "State of charge, true and told", Checks: all,
		Panels:        []Panel{{X: Axis{Label: "time, h"}, Y: Axis{Label: "state of charge, %"}, Curves: []Curve{truth, shown}}},
		Formula:       "counter: Δ = (1 + g)·Δtrue, set right at 98 %;  shown: rounded to 1 %, lag 60 s;   g = −8 %",
		Source:        "Common practice, no source.",
		WithoutPoints: "No standard says how a battery may misjudge its charge. The square is worked out by hand; the told value stands up to a resolution and a lag below it.",
	}, nil
}

package atlas

import "kilter/physics"

// partLoad is the efficiency of a PV inverter over its load.
func partLoad() (Picture, error) {
	const nominal, ratedW = 0.96, 5000.0
	all := partLoadRows.against(0, func(at []float64) float64 { return physics.PVWattsEfficiency(at[0], nominal) }).named("efficiency at load")
	powers := partLoadPowerRows.against(0, func(at []float64) float64 { return physics.PVWattsAC(at[0], ratedW/nominal, nominal) }).named("AC power of a 5 kW unit at DC W")
	for i, r := range partLoadPowerRows.Rows {
		powers[i].X, powers[i].Y = r.At[0]/(ratedW/nominal), r.Value/r.At[0]
	}
	all = append(all, powers...)
	// The same curve as a battery inverter has it, and its inverse.
	all = append(all, partLoadPowerRows.against(0, func(at []float64) float64 { return physics.PartLoadOutput(at[0], ratedW/nominal, nominal) }).undrawn().named("battery inverter, output at input W")...)
	inverse := partLoadPowerRows.against(0, func(at []float64) float64 { return at[0] }).undrawn()
	for i, r := range partLoadPowerRows.Rows {
		inverse[i].What, inverse[i].Value = "battery inverter, input at output "+figure(r.Value, 10)+" W", r.At[0]
		inverse[i].Model = physics.PartLoadInput(r.Value, ratedW/nominal, nominal)
	}
	all = append(all, inverse...)
	all = append(all, partLoadPublishedRows.against(0, func(at []float64) float64 { return physics.PVWattsAC(at[0], 100, 0.95) }).undrawn().named("AC power of a 100 W unit, η 0.95, at DC W")...)
	return Picture{
		ID: "part-load", Title: "Part-load efficiency of an inverter", Checks: all,
		Panels: []Panel{{X: Axis{Label: "DC power over its rating", Min: 0, Max: 1.05}, Y: Axis{Label: "efficiency", Min: 0.80, Max: 1}, Curves: []Curve{
			line("model, η nominal 0.96", 0, 0.02, 1, 400, func(z float64) float64 { return physics.PVWattsEfficiency(z, nominal) })}}},
		Formula: "η = (ηnom/0.9637)·(−0.0162·z − 0.0059/z + 0.9858),   z = Pdc/Pdc0",
		Source:  "A. P. Dobos, PVWatts Version 5 Manual, NREL/TP-6A20-62641, 2014; PV-33 and PV-34 from pvlib-python tests/test_inverter.py, PV-36 and PV-37 recomputed.",
	}, nil
}

// sandia is an inverter by its measured parameters.
func sandia() (Picture, error) {
	v := physics.SandiaInverter{RatedACW: 250, RatedDCW: 259.5220505, RatedV: 40.24260317, StartW: 1.771614224,
		C0: -2.48e-5, C1: -9.01e-5, C2: 6.69e-4, C3: -0.0189, NightW: 0.02}
	ac := func(at []float64) float64 { return v.ACPower(at[1], at[0]) }
	all := sandiaRows.against(0, ac).named("DC W; V:")
	all = append(all, sandiaMoreRows.against(0, ac).named("DC W; V:")...)
	var powers, efficiencies []Curve
	for i, volts := range []float64{25, v.RatedV, 50} {
		power := line(figure(volts, 4)+" V DC", i, 0, 560, 560, func(w float64) float64 { return v.ACPower(volts, w) })
		efficiency := line("", i, 10, 259.5, 500, func(w float64) float64 { return 100 * v.ACPower(volts, w) / w })
		power.Dashed, efficiency.Dashed = i > 0, i > 0
		powers, efficiencies = append(powers, power), append(efficiencies, efficiency)
	}
	for i := range all {
		if c := &all[i]; c.X >= 100 && c.X <= 260 { // these tell more as an efficiency
			c.Panel, c.Y = 1, 100*c.Value/c.X
		}
	}
	return Picture{
		ID: "sandia", Title: "PV inverter by its measured parameters", Checks: all,
		Panels: []Panel{
			{X: Axis{Label: "DC power, W"}, Y: Axis{Label: "AC power, W"}, Curves: powers},
			{X: Axis{Label: "DC power, W"}, Y: Axis{Label: "efficiency, %", Min: 90, Max: 97}, Curves: efficiencies},
		},
		Formula: "P = (Paco/(A − B) − C·(A − B))·(Pdc − B) + C·(Pdc − B)²;  A, B, C linear in the DC voltage; P ≤ Paco",
		Source:  "D. L. King et al., Performance Model for Grid-Connected Photovoltaic Inverters, SAND2007-5036, 2007; PV-39 from pvlib-python tests/test_inverter.py, PV-40 recomputed.",
	}, nil
}

// dcPower is the power of an array over irradiance and temperature.
func dcPower() (Picture, error) {
	array := func(g, cellC float64) float64 { return physics.PVWattsDC(g, cellC, 5000, -0.0037) }
	all := dcRows.against(0, func(at []float64) float64 { return array(at[0], at[1]) }).named("5 kW at W/m²; °C:")
	all = append(all, dcPublishedRows.against(0, func(at []float64) float64 { return physics.PVWattsDC(at[0], at[1], 100, -0.003) }).undrawn().named("100 W at W/m²; °C:")...)
	all = append(all, lowLightRows.against(0, func(at []float64) float64 { return physics.PVWattsLowLightDC(at[0], at[1], 100, -0.003, 0.01, false) }).undrawn().named("100 W with low-light loss at W/m²; °C:")...)
	var curves []Curve
	for i, cellC := range []float64{15, 25, 35, 45} {
		curves = append(curves, line(figure(cellC, 3)+" °C cells", i, 0, 1450, 200, func(g float64) float64 { return array(g, cellC) }))
	}
	return Picture{
		ID: "pv-dc", Title: "DC power of a PV array", Checks: all,
		Panels:  []Panel{{X: Axis{Label: "irradiance on the plane, W/m²"}, Y: Axis{Label: "DC power, W"}, Curves: curves}},
		Formula: "P = G/1000 · Ppeak · (1 + γ·(Tc − 25));   5 kW, γ = −0.37 %/K",
		Source:  "NREL/TP-6A20-62641, 2014, section 9; PV-30 and PV-31 from pvlib-python tests/test_pvsystem.py, PV-32 recomputed.",
	}, nil
}

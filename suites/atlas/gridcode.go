package atlas

import "kilter/physics"

// voltWatt limits active power by voltage.
func voltWatt() (Picture, error) {
	ieee, australia := physics.VoltWatt1547(), physics.VoltWattAustraliaA()
	at := func(c physics.Curve) func([]float64) float64 {
		return func(at []float64) float64 { return c.At(at[0]) }
	}
	all := voltWattRows.against(0, at(ieee)).named("V, pu:")
	all = append(all, voltWattMoreRows.against(0, at(ieee)).named("V, pu:")...)
	all = append(all, voltWattAustraliaRows.against(1, at(australia)).named("V:")...)
	all = append(all, voltWattAustraliaMoreRow.against(1, at(australia)).named("V:")...)
	return Picture{
		ID: "volt-watt", Title: "Volt-watt", Checks: all,
		Panels: []Panel{
			{X: Axis{Label: "voltage over nominal"}, Y: Axis{Label: "injection over rating", Min: 0, Max: 1.1}, Curves: []Curve{line("IEEE Std 1547-2018 default", 0, 1.03, 1.12, 90, ieee.At)}},
			{X: Axis{Label: "phase voltage, V"}, Y: Axis{Label: "injection over rating", Min: 0, Max: 1.1}, Curves: []Curve{line("AS/NZS 4777.2:2020, Australia A", 1, 248, 264, 160, australia.At)}},
		},
		Formula: "piecewise linear, flat outside the points",
		Source:  "IEEE Std 1547-2018 table 10 (GC-06, secondary); AS/NZS 4777.2:2020 (GC-39, secondary); points between recomputed (GC-07, GC-40).",
	}, nil
}

// voltVar sets reactive power by voltage.
func voltVar() (Picture, error) {
	b, a, australia := physics.VoltVarCategoryB(), physics.VoltVarCategoryA(), physics.VoltVarAustraliaA()
	// The standards count injection; inside, absorbing is positive.
	injected := func(c physics.Curve) func(float64) float64 { return func(v float64) float64 { return -c.At(v) } }
	at := func(c physics.Curve) func([]float64) float64 {
		return func(at []float64) float64 { return -c.At(at[0]) }
	}
	all := voltVarBRows.against(0, at(b)).named("B at V, pu:")
	all = append(all, voltVarBMoreRows.against(0, at(b)).named("B at V, pu:")...)
	all = append(all, voltVarARows.against(0, at(a)).named("A at V, pu:")...)
	all = append(all, voltVarAustraliaRows.against(1, at(australia)).named("V:")...)
	all = append(all, voltVarAustraliaMoreRows.against(1, at(australia)).named("V:")...)
	all[len(all)-1].Silent = true // the id would stand at its neighbour
	return Picture{
		ID: "volt-var", Title: "Volt-var", Checks: all,
		Panels: []Panel{
			{X: Axis{Label: "voltage over nominal"}, Y: Axis{Label: "injected var over rating", Min: -0.55, Max: 0.55}, Curves: []Curve{
				line("IEEE Std 1547-2018 Category B", 0, 0.88, 1.12, 240, injected(b)), line("Category A", 2, 0.88, 1.12, 240, injected(a)).dashed()}},
			{X: Axis{Label: "phase voltage, V"}, Y: Axis{Label: "injected var over rating", Min: -0.7, Max: 0.55}, Curves: []Curve{line("AS/NZS 4777.2:2020, Australia A", 1, 200, 265, 130, injected(australia))}},
		},
		Formula: "piecewise linear, flat outside the points; drawn with injection positive, as the standards have it",
		Source:  "IEEE Std 1547-2018 table 8 (GC-01, secondary; Category A, GC-04, from memory); AS/NZS 4777.2:2020 (GC-37, secondary); points between recomputed (GC-02, GC-05, GC-38).",
	}, nil
}

// droop changes active power with frequency.
func droop() (Picture, error) {
	lfsm, ieee := physics.LFSMDefault(), physics.Droop1547(60)
	flat, err := physics.LFSM(0, 0, 50.4, 0.10)
	if err != nil {
		return Picture{}, err
	}
	change := func(d physics.Droop) func(float64) float64 { return func(hz float64) float64 { return d.Change(hz) } }
	at := func(d physics.Droop) func([]float64) float64 {
		return func(at []float64) float64 { return d.Change(at[0]) }
	}
	all := lfsmRows.against(0, at(lfsm)).scaled(1, 100).named("s 5 %, 50.2 Hz, at Hz:")
	all = append(all, lfsmFlatRows.against(0, at(flat)).scaled(1, 100).named("s 10 %, 50.4 Hz, at Hz:")...)
	all = append(all, lfsmTestRows.against(0, func(at []float64) float64 { return at[1] * lfsm.Change(at[0]) }).undrawn().named("Hz; MW:")...)
	all = append(all, droop1547Rows.against(1, at(ieee)).scaled(1, 100).named("60 Hz system at Hz:")...)
	all = append(all, lfsmUnderRows.against(0, at(lfsm)).scaled(1, 100).silent().named("s 5 %, 49.8 Hz, at Hz:")...)
	all = append(all, droop1547UnderRows.against(1, at(ieee)).scaled(1, 100).silent().named("60 Hz system at Hz:")...)
	percent := func(name string, hue int, from, to float64, d physics.Droop) Curve {
		return line(name, hue, from, to, 400, func(hz float64) float64 { return 100 * change(d)(hz) })
	}
	return Picture{
		ID: "droop", Title: "Frequency droop", Checks: all,
		Panels: []Panel{
			{X: Axis{Label: "frequency, Hz"}, Y: Axis{Label: "cut of injection, %"}, Curves: []Curve{
				percent("LFSM, 49.8 and 50.2 Hz, droop 5 %", 0, 49, 52, lfsm), percent("LFSM-O, 50.4 Hz, droop 10 %", 1, 49, 52, flat).dashed()}},
			{X: Axis{Label: "frequency, Hz"}, Y: Axis{Label: "cut of injection, %"}, Curves: []Curve{percent("IEEE Std 1547-2018 default, 60 Hz", 2, 59, 61.5, ieee)}},
		},
		Formula: "ΔP/Pref = (f − f0)/(fn·s) beyond f0, 0 between the thresholds",
		Source: "Commission Regulation (EU) 2016/631 art. 13(2), EN 50549-1:2019 4.6.1 (GC-30, GC-31, secondary), GC-32 and GC-33 recomputed, GC-34 a public test of the rule; " +
			"IEEE Std 1547-2018 table 24 from memory (GC-08), its arithmetic recomputed (GC-09).",
	}, nil
}

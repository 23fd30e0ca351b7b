package atlas

import "kilter/physics"

// pilot is what a duty cycle of the control pilot allows.
func pilot() (Picture, error) {
	amps := func(duty float64) float64 {
		_, a := physics.PilotCurrent(duty)
		return a
	}
	drawn := func(duty float64) float64 {
		if o, a := physics.PilotCurrent(duty); o != physics.DigitalOnly {
			return a
		}
		return nan
	}
	at := func(at []float64) float64 { return amps(at[0]) }
	all := pilotRows.against(0, at).named("current at duty %")
	all = append(all, pilotBandRows.against(0, at).named("current at duty %")...)
	all = append(all, dutyRows.against(0, func(at []float64) float64 { return physics.PilotDuty(at[0]) }).swapped().silent().named("duty for A:")...)
	jump := Check{ID: "EV-04", What: "just above 85 %", Value: 52.5, Model: amps(85 + 1e-9), Tolerance: 1e-6, Unit: "A", Mark: Published, X: 85, Y: 52.5}
	return Picture{
		ID: "pilot", Title: "Duty cycle of the charging pilot", Checks: append(all, jump),
		Panels: []Panel{{X: Axis{Label: "duty cycle, %", Min: 0, Max: 102}, Y: Axis{Label: "current per conductor, A", Min: -3, Max: 90}, Curves: []Curve{
			line("largest current allowed", 0, 0, 100, 4000, drawn)}}},
		Formula: "8 to 10 %: 6 A;  10 to 85 %: 0.6·D;  85 to 96 %: 2.5·(D − 64);  96 to 97 %: 80 A;  3 to 7 %: digital communication;  else none",
		Source:  "IEC 61851-1:2017 annex A, from a secondary source (EV-01, EV-04); EV-02 and EV-03 recomputed.",
		Note:    "EV-03 asks the other way, which duty names a current; its circles lie on the same line.",
	}, nil
}

package atlas

import (
	"math"

	"kilter/physics"
)

// flicker is the size of a voltage change that is just too much, over how often it comes.
func flicker() (Picture, error) {
	all := flickerRows.against(0, func(at []float64) float64 { return physics.FlickerChangePercent(at[0]) }).named("changes a minute:")
	pst := func(at []float64) float64 { return physics.PstOfFlickerTime(at[1] * physics.FlickerTime(1, at[0])) }
	all = append(all, pstRows.against(0, pst).undrawn().named("Pst of d %; changes in 10 min:")...)
	z := physics.ReferenceImpedance()
	start := func(watts float64) float64 {
		return 100 * (1 - physics.VoltageAtInlet(230, z.ResistanceOhm, z.ReactanceOhm, watts, 0)/230)
	}
	for _, x := range []struct{ watts, d, pst float64 }{{3680, 2.881194, 0.506338}, {7360, 5.988165, 1.052353}} {
		all = append(all,
			Check{ID: "FL-08", What: figure(x.watts, 4) + " W vehicle starts: d", Value: x.d, Model: start(x.watts), Tolerance: 1e-5, Unit: "%", Mark: Recomputed, X: nan},
			Check{ID: "FL-08", What: figure(x.watts, 4) + " W vehicle starts: Pst", Value: x.pst, Model: pst([]float64{start(x.watts), 1}), Tolerance: 1e-5, Mark: Recomputed, X: nan})
	}
	meter := Curve{Name: "Pst by the flickermeter", Hue: 1}
	table := Curve{Name: "the standard’s curve for the flickermeter", Hue: 1, Dashed: true}
	for _, x := range flickermeterPoints {
		v, err := pstByMeter(x[0], x[1])
		if err != nil {
			return Picture{}, err
		}
		meter.add(x[0], v)
		table.add(x[0], x[1])
		all = append(all, Check{ID: "FL-09", What: "Pst by the flickermeter at " + figure(x[0], 4) + " changes a minute of " + figure(x[1], 4) + " %",
			Value: 1, Model: v, Tolerance: 0.05, Mark: FromMemory, Panel: 1, X: x[0], Y: 1, Silent: true},
			Check{ID: "FL-09", What: "the same by an independent flickermeter", Value: x[2], Model: v, Tolerance: 0.005, Mark: Recomputed, X: nan})
	}
	rate := Axis{Label: "changes a minute", Log: true, Min: 0.8, Max: 2000}
	return Picture{
		ID: "flicker", Title: "Flicker", Checks: all,
		Panels: []Panel{
			{X: rate, Y: Axis{Label: "change for Pst 1, %", Log: true, Min: 0.25, Max: 3.5}, Curves: []Curve{
				logLine("analytical method", 0, 1, 1620, 200, physics.FlickerChangePercent), table}},
			{X: rate, Y: Axis{Label: "Pst by the flickermeter", Min: 0.9, Max: 1.1}, Curves: []Curve{meter}},
		},
		Formula: "t = 2.3·(F·d)^3.2 s,   Pst = (Σt/600 s)^(1/3.2);   flickermeter: square, filters, lamp and eye, square, 300 ms, percentiles",
		Source:  "IEC 61000-3-3 annex B (FL-01, secondary), FL-02 to FL-08 recomputed; IEC 61000-4-15:2010 table 5 from memory, confirmed by an independently built flickermeter (FL-09; class tolerance 5 %).",
		Note:    "The analytical method is for rare changes: from about one a second on it departs from the standard’s curve, which is why the flickermeter is there too.",
	}, nil
}

// pstByMeter runs the flickermeter for 11 minutes on a rectangular modulation, and drops the first.
func pstByMeter(perMinute, percent float64) (float64, error) {
	const rate = 2000
	m, err := physics.NewFlickermeter(230, rate)
	if err != nil {
		return 0, err
	}
	var mains [rate / 50]float64
	for i := range mains {
		mains[i] = 230 * math.Sqrt2 * math.Sin(2*math.Pi*float64(i)/float64(len(mains)))
	}
	half := 60 / perMinute
	for i := range 660 * rate {
		if i == 60*rate {
			m.Restart()
		}
		side := 1.0
		if int64(float64(i)/rate/half)%2 == 1 {
			side = -1
		}
		m.Step(mains[i%len(mains)] * (1 + percent/200*side))
	}
	return m.Pst(), nil
}

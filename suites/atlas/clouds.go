package atlas

import (
	"math"
	"slices"

	"kilter/physics"
)

// roof is a site that is nothing but a roof of 12 kW on a June day in the north.
func roof(stepMS int64, seed uint64) physics.Site {
	return physics.Site{
		StepMS: stepMS, Seed: seed, Phases: 1,
		Supply:  physics.Supply{VoltageV: 230, FrequencyHz: 50},
		Feeders: []physics.Feeder{{Name: "supply", Parent: -1}},
		Arrays: []physics.ArrayParams{{Name: "roof", PeakW: 12000, RatingW: 10000, TiltDeg: 30, AzimuthDeg: 180,
			LossFraction: 0.12, TempCoeffPerK: -0.004, AmbientTempC: 18, NoctTempC: 45, GroundAlbedo: 0.2}},
		Sky: physics.SkyParams{LatitudeDeg: 59.9, LongitudeDeg: 10.7, StartUnixS: 1781740800 + 7*3600}, // 2026-06-18 07:00 UTC
	}
}

const (
	processS    = 2400
	processSeed = 11
)

// cloudEdge is one cloud of a story, and a while of the seeded process.
func cloudEdge() (Picture, error) {
	one, err := physics.New(roof(100, 1))
	if err != nil {
		return Picture{}, err
	}
	single := Curve{Name: "one cloud: depth 75 %, edges of 4 s, enhancement 20 %"}
	cloud := physics.PassCloud{Depth: 0.75, EdgeS: 4, LastsS: 90, Enhancement: 0.2}
	top, bottom := 0.0, 1.0
	for n := range 1400 {
		if n == 200 {
			one.Apply(cloud)
		}
		one.Step()
		top, bottom = max(top, one.SkyFactor()), min(bottom, one.SkyFactor())
		if n%2 == 0 {
			single.add(float64(one.TimeMS())/1000, one.SkyFactor())
		}
	}
	many, err := physics.New(roof(1000, processSeed))
	if err != nil {
		return Picture{}, err
	}
	process, brightest := Curve{Name: "broken clouds, 40 min of one seed", Hue: 1}, 0.0
	many.Apply(physics.FieldClouds())
	for range processS {
		many.Step()
		process.add(float64(many.TimeMS())/60000, many.SkyFactor())
		brightest = max(brightest, many.SkyFactor())
	}
	all := []Check{
		{ID: "depth", What: "1 − depth under the cloud", Value: 0.25, Model: bottom, Tolerance: 1e-9, Mark: ByHand, X: 65, Y: 0.25, Silent: true},
		{ID: "edge", What: "1 + enhancement beside it", Value: 1.2, Model: top, Tolerance: 1e-9, Mark: ByHand, X: nan},
		{ID: "PV-53", What: "brightest moment over the clear sky, here", Value: 1.5, Model: brightest, Bound: AtMost, Mark: Published, Panel: 1, X: 20, Y: 1.5},
	}
	return Picture{
		ID: "cloud-edge", Title: "Cloud edge and broken cloud", Checks: all,
		Panels: []Panel{
			{X: Axis{Label: "time, s", Min: 0, Max: 140}, Y: Axis{Label: "irradiance over clear sky", Min: 0, Max: 1.6}, Curves: []Curve{single}},
			{X: Axis{Label: "time, min"}, Y: Axis{Label: "irradiance over clear sky", Min: 0, Max: 1.6}, Curves: []Curve{process}},
		},
		Formula: "irradiance = clear sky × factor;  factor = 1 + enhancement just beside a cloud, falling in a straight line within the edge time to 1 − depth under it",
		Source:  "Up to 1.5 of the clear sky: M. Jarvela, K. Lappalainen, S. Valkealahti, Solar Energy, 2020, abstract (PV-53), and G. H. Yordanov et al., IEEE J. Photovoltaics 3(1), 2013, abstract (PV-52).",
		Note:    "A shape of one cloud is not published; the square is worked out by hand.",
	}, nil
}

const (
	rampDays = 20       // seeds
	rampDayS = 8 * 3600 // seconds of each, 08:00 to 16:00 by the sun
	wideS    = 45       // a cloud at 10 m/s takes this long across the 450 m of a plant of 10 MW; common practice, no source
)

// ramps are how fast the broken clouds change what comes down.
func ramps() (Picture, error) {
	var second, wide, minute, dayMinutes []float64
	brightest := 0.0
	for seed := range uint64(rampDays) {
		p, err := physics.New(roof(1000, seed))
		if err != nil {
			return Picture{}, err
		}
		p.Apply(physics.FieldClouds())
		var window [wideS]float64
		for i := range window {
			window[i] = 1
		}
		was, wasWide, wasMinute, sum, worst := 1.0, 1.0, nan, 0.0, 0.0
		for s := 1; s <= rampDayS; s++ {
			p.Step()
			f := p.SkyFactor()
			brightest = max(brightest, f)
			second, was = append(second, math.Abs(f-was)), f
			window[s%wideS] = f
			mean := 0.0
			for _, w := range window {
				mean += w / wideS
			}
			wide, wasWide = append(wide, math.Abs(mean-wasWide)), mean
			sum -= p.Arrays[0].MeanW / p.Site().Arrays[0].PeakW / 60
			if s%60 == 0 {
				if change := math.Abs(sum - wasMinute); s > 60 {
					minute = append(minute, change)
					worst = max(worst, change)
				}
				wasMinute, sum = sum, 0
			}
		}
		dayMinutes = append(dayMinutes, worst)
	}
	slices.Sort(dayMinutes)
	a, b, c := exceedance("roof, in one second", 0, second), exceedance("mean over a 10 MW plant, in one second", 1, wide), exceedance("roof’s power, from minute to minute", 2, minute)
	floor := func(c Curve) float64 { return c.Y[len(c.Y)-1] }
	all := []Check{
		{ID: "PV-50", What: "fastest second at a point, of the clear sky", Value: 0.60, Model: slices.Max(second), Bound: AtMost, Mark: Published, X: 60, Y: floor(a)},
		{ID: "PV-51", What: "fastest second of a 10 MW plant", Value: 0.05, Model: slices.Max(wide), Bound: AtMost, Mark: Published, X: 5, Y: floor(b)},
		{ID: "PV-54", What: "largest minute of a plant of 5 MW in a year, of capacity", Value: 0.70, Model: slices.Max(minute), Bound: AtMost, Mark: Published, X: 70, Y: floor(c)},
		{ID: "PV-55", What: "largest minute of one example day, of capacity, against the median day", Value: 0.40, Model: dayMinutes[len(dayMinutes)/2], Tolerance: 0.1, Mark: Published, X: 40, Y: 1. / (rampDayS/60 - 1) * 100},
		{ID: "PV-52", What: "brightest moment over the clear sky", Value: 1.5, Model: brightest, Bound: AtMost, Mark: Published, X: nan},
	}
	return Picture{
		ID: "ramps", Title: "Ramps of broken cloud", Checks: all,
		Panels: []Panel{{X: Axis{Label: "change, % of clear sky or of capacity", Min: 0, Max: 75}, Y: Axis{Label: "exceeded for, % of the time", Log: true, Min: 1e-4, Max: 120},
			Curves: []Curve{a, b, c}}},
		Formula: "share of all seconds (or minutes) in which the change exceeds x, over 20 seeds × 8 h",
		Source: "M. Lave, J. Kleissl, E. Arias-Castro, Solar Energy 86, 2012 (PV-50, PV-51); G. H. Yordanov et al., 2013 (PV-52); R. van Haaren, M. Morjaria, V. Fthenakis, " +
			"Prog. Photovolt., 2012 (PV-54), all by their abstracts; R. Perez et al., 2013, figure 1 (PV-55).",
		Note: "The published figures are extremes: a curve must end to the left of its point. PV-55 is one day’s extreme, and is compared with the median of the seeds’ days.",
	}, nil
}

// exceedance is for which share of the values [%] a size [%] is exceeded, thinned out to what a line can show.
func exceedance(name string, hue int, values []float64) Curve {
	slices.Sort(values)
	c := Curve{Name: name, Hue: hue}
	n := len(values)
	for above := n; above >= 1; above = min(above-1, above*24/25) {
		c.add(100*values[n-above], 100*float64(above)/float64(n))
	}
	return c
}

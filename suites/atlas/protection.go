package atlas

import (
	"fmt"
	"math"

	"kilter/physics"
)

// fuse is the time-current band of gG fuse links.
func fuse() (Picture, error) {
	var curves []Curve
	var all []Check
	hue := 0
	for _, g := range fuseGates {
		early, err := physics.NewFuse(g.rated, 0, 1)
		if err != nil {
			return Picture{}, err
		}
		late, err := physics.NewFuse(g.rated, 1, 1)
		if err != nil {
			return Picture{}, err
		}
		drawn := g.preArcing > 0
		point := func(id, what string, amps, seconds float64, f *physics.Fuse, bound Bound) {
			c := Check{ID: id, What: fmt.Sprintf("%g A gG, %s, %s A", g.rated, what, figure(amps, 6)), Value: seconds, Model: f.PreArcingS(amps), Tolerance: 1e-9 * max(1, seconds),
				Unit: "s", Bound: bound, Mark: Published, X: amps, Y: seconds, Silent: true}
			if !drawn {
				c.X = nan
			}
			all = append(all, c)
		}
		point("OC-04", "I(10 s) min", g.min10s, 10, &early, Exactly)
		point("OC-04", "I(5 s) max", g.max5s, 5, &late, Exactly)
		point("OC-04", "I(0.1 s) min", g.min100ms, 0.1, &early, Exactly)
		point("OC-04", "I(0.1 s) max", g.max100ms, 0.1, &late, Exactly)
		hour := physics.FuseConventionalS(g.rated)
		if g.rated <= 63 { // the conventional time above is from memory
			point("OC-01", "1.25 In: holds", 1.25*g.rated, 3600, &early, AtLeast)
			point("OC-01", "1.6 In: melts", 1.6*g.rated*(1+1e-9), 3600, &late, AtMost)
			all[len(all)-1].Tolerance = 1e-3
		}
		if !drawn {
			continue
		}
		// I2t at 10 ms: the current that has it.
		point("OC-05", "pre-arcing I²t at 10 ms", math.Sqrt(g.preArcing/0.01), 0.01, &early, Exactly)
		point("OC-05", "operating I²t at 10 ms", math.Sqrt(g.operating/0.01), 0.01, &late, Exactly)
		for _, x := range []struct {
			f    physics.Fuse
			name string
			dash bool
		}{{early, fmt.Sprintf("%g A earliest", g.rated), false}, {late, fmt.Sprintf("%g A latest", g.rated), true}} {
			c := logLine(x.name, hue, g.rated, 6000, 500, func(i float64) float64 {
				if t := x.f.PreArcingS(i); t >= 0.002 && t <= 4*hour {
					return t
				}
				return nan
			})
			c.Dashed = x.dash
			curves = append(curves, c)
		}
		hue++
	}
	return Picture{
		ID: "fuse", Title: "gG fuse link, time over current", Checks: all,
		Panels:  []Panel{{X: Axis{Label: "current, A", Log: true, Min: 15, Max: 4000}, Y: Axis{Label: "pre-arcing time, s", Log: true, Min: 0.002, Max: 20000}, Curves: curves}},
		Formula: "straight on log-log paper through the conventional currents, the gates at 10, 5 and 0.1 s, and I²t at 10 ms; I²t constant beyond",
		Source:  "IEC 60269-1 table 2 (OC-01), table 3 (OC-04) and table 7 (OC-05), from a secondary source.",
		Note:    "Points from top to bottom: 1.25 and 1.6 In at the conventional time (OC-01), the gates at 10, 5 and 0.1 s (OC-04), and I²t at 10 ms (OC-05). 20 and 25 A are in the table of values.",
	}, nil
}

// breaker is the time-current band of a miniature circuit breaker.
func breaker() (Picture, error) {
	const rated = 16.0
	bound := func(f func(physics.BreakerType, float64, float64) float64) func(float64) float64 {
		return func(i float64) float64 {
			if t := f(physics.TypeC, rated, i); t > 0 {
				return t
			}
			return 1e-4 // "at once", at the foot of the paper
		}
	}
	earliest := logLine("earliest that table 7 allows", 0, 16, 1000, 2000, bound(physics.BreakerEarliestS))
	latest := logLine("latest", 1, 16, 1000, 2000, bound(physics.BreakerLatestS))
	middle, err := trips(rated)
	if err != nil {
		return Picture{}, err
	}
	all := breakerLatestRows.against(0, func(at []float64) float64 { return physics.BreakerLatestS(physics.TypeC, rated, at[0]) }).named("latest, A:")
	all = append(all, breakerEarliestRows.against(0, func(at []float64) float64 { return physics.BreakerEarliestS(physics.TypeC, rated, at[0]) }).named("earliest, A:")...)
	for i := range all {
		if all[i].Y <= 0 {
			all[i].X = nan // 0 s has no place on log paper
		}
	}
	for i, x := range middle.X {
		early, late := physics.BreakerEarliestS(physics.TypeC, rated, x), physics.BreakerLatestS(physics.TypeC, rated, x)
		if t := middle.Y[i]; finite(t) && (t < early-1e-9 || t > late+0.1+1e-9) {
			return Picture{}, fmt.Errorf("a C16 of the bench tripped after %g s at %g A, outside its own bounds %g and %g s", t, x, early, late)
		}
	}
	return Picture{
		ID: "breaker", Title: "Miniature circuit breaker C16, time over current", Checks: all,
		Panels:  []Panel{{X: Axis{Label: "current, A", Log: true, Min: 15, Max: 1100}, Y: Axis{Label: "tripping time, s", Log: true, Min: 0.03, Max: 10000}, Curves: []Curve{earliest, latest, middle}}},
		Formula: "bounds: 1.13 In holds and 1.45 In trips within 1 h; 2.55 In: 1 to 60 s; 5 to 10 In at once. Between: τ·dθ/dt = i² − θ",
		Source:  "IEC 60898-1 table 7, from a secondary source (OC-06 to OC-09). The bench’s curve between the bounds is our own.",
	}, nil
}

// trips steps a breaker in the middle of its band at many currents.
func trips(rated float64) (Curve, error) {
	c := Curve{Name: "a breaker of the bench, stepped", Hue: 2, Dashed: true}
	for i := range 400 {
		amps := 20 * math.Pow(900./20, float64(i)/399)
		stepS := 0.1
		b, err := physics.NewBreaker(physics.TypeC, rated, 0.5, stepS)
		if err != nil {
			return c, err
		}
		t := nan
		for n := 1; n <= 72000; n++ {
			if b.Step(amps) {
				t = float64(n) * stepS
				break
			}
		}
		c.add(amps, t)
	}
	return c, nil
}

// replica is the tripping time of a thermal replica.
func replica() (Picture, error) {
	cold := func(i float64) float64 { return physics.ReplicaTripS(1, i, 1.13, 0) }
	all := replicaRows.against(0, func(at []float64) float64 { return cold(at[0]) }).named("cold, i:")
	const tau, stepS = 100.0, 0.01
	stepped := replicaRows
	stepped.Tolerance, stepped.Unit = stepS/tau*1.01, "τ (stepped)"
	all = append(all, stepped.against(0, func(at []float64) float64 {
		r := physics.NewThermalReplica(tau, 1.13, stepS)
		n := 1
		for ; !r.Step(at[0]) && n < 100_000; n++ {
		}
		return float64(n) * stepS / tau
	}).undrawn().named("stepped by τ/10000, i:")...)
	warm := func(theta float64) func(float64) float64 {
		return func(i float64) float64 { return physics.ReplicaTripS(1, i, 1.13, theta) }
	}
	return Picture{
		ID: "replica", Title: "Thermal replica of a conductor", Checks: all,
		Panels: []Panel{{X: Axis{Label: "current over rated current", Log: true, Min: 1, Max: 11}, Y: Axis{Label: "tripping time over τ", Log: true, Min: 0.008, Max: 6},
			Curves: []Curve{logLine("cold", 0, 1.131, 10, 500, cold), logLine("after half of the rated heating", 1, 1.131, 10, 500, warm(0.5)).dashed()}}},
		Formula: "τ·dθ/dt = i² − θ, trips at θ = k²:   t = τ·ln((i² − θ0)/(i² − k²)),   k = 1.13",
		Source:  "IEC 60255-149; OC-15 recomputed.",
	}, nil
}

package atlas

import (
	"math"

	"kilter/physics"
)

// loopLimits are the gains beyond which a sampled integrator hunts.
func loopLimits() (Picture, error) {
	limit := func(l physics.SampledLoop) float64 { return l.StabilityLimit() }
	all := delayLimitRows.against(0, func(at []float64) float64 { return physics.SampledDelayLimit(int(at[0])) }).named("closed form, d:")
	roots := delayLimitRows.against(0, func(at []float64) float64 { return limit(physics.SampledLoop{Delay: int(at[0])}) }).undrawn().named("by the roots, d:")
	all = append(all, roots...)
	all = append(all, meanLimitRows.against(1, func(at []float64) float64 { return limit(physics.SampledLoop{MeanOver: int(at[0])}) }).named("mean over M:")...)
	lag := func(tau float64, d int) float64 {
		return limit(physics.SampledLoop{ActuatorS: tau, PeriodS: 1, Delay: d})
	}
	all = append(all, lagLimitRows.against(2, func(at []float64) float64 { return lag(at[0], int(at[1])) }).named("τ s; d:")...)
	steps := func(name string, hue, from, to int, f func(n int) float64) Curve {
		c := Curve{Name: name, Hue: hue}
		for n := from; n <= to; n++ {
			c.add(float64(n), f(n))
		}
		return c
	}
	return Picture{
		ID: "loop-limits", Title: "Stability limit of a sampled loop", Checks: all,
		Panels: []Panel{
			{X: Axis{Label: "delay d, samples"}, Y: Axis{Label: "largest gain", Min: 0, Max: 2.3}, Curves: []Curve{steps("delay alone", 0, 0, 10, physics.SampledDelayLimit)}},
			{X: Axis{Label: "meter’s mean over M samples, d = 0"}, Y: Axis{Label: "largest gain", Min: 0, Max: 2.3}, Curves: []Curve{
				steps("meter that averages", 1, 1, 10, func(m int) float64 { return limit(physics.SampledLoop{MeanOver: m}) })}},
			{X: Axis{Label: "actuator’s lag τ, sampling periods"}, Y: Axis{Label: "largest gain", Min: 0, Max: 2.3}, Curves: []Curve{
				line("first-order actuator, d = 0", 2, 0.05, 3, 60, func(tau float64) float64 { return lag(tau, 0) }),
				line("first-order actuator, d = 1", 3, 0.05, 3, 60, func(tau float64) float64 { return lag(tau, 1) }).dashed()}},
		},
		Formula: "u[n+1] = u[n] − g·y[n−d] settles for 0 < g < 2·sin(π/(2·(2d + 1)));  with mean or lag: the first root on the unit circle",
		Source:  "S. A. Levin, R. M. May, A note on difference-delay equations, Theor. Popul. Biol. 9, 1976 (the citation from memory, the numbers recomputed): ST-05, ST-06, ST-16, ST-20.",
		Note:    "Loops of equal period and delay that sample in phase add their gains: two batteries share one limit.",
	}, nil
}

// loopSite is one inverter that follows one meter, without anything that would blur the limit: no
// ramp, no lag, and more rating and capacity than the swing will use.
func loopSite(gain float64, delay int) physics.Site {
	return physics.Site{
		StepMS: 100, Seed: 1, Phases: 1,
		Supply:  physics.Supply{VoltageV: 230, FrequencyHz: 50},
		Feeders: []physics.Feeder{{Name: "supply", Parent: -1}},
		Meters:  []physics.MeterParams{{Name: "grid", RefreshS: 1, LatencyS: float64(delay)}},
		Inverters: []physics.InverterParams{{Name: "north", RatingW: 1e9, Efficiency: 0.96,
			Battery: physics.BatteryParams{CapacityWh: 1e12, ChargeEfficiency: 0.97, DischargeEfficiency: 0.97, MaxChargeW: 1e9, MaxDischargeW: 1e9, InitialSOC: 0.5, TaperAboveSOC: 1},
			Loop:    physics.LoopParams{Meter: 0, Gain: gain, PeriodS: 1}}},
		Loads: []physics.LoadParams{{Name: "mixer", PowerW: 1000}},
	}
}

// swing switches a load of 1000 W on and follows the grid flow, one value a sample.
func swing(gain float64, delay, samples int) ([]float64, error) {
	p, err := physics.New(loopSite(gain, delay))
	if err != nil {
		return nil, err
	}
	step := func(seconds int) {
		for range seconds * 10 {
			p.Step()
		}
	}
	step(5)
	p.Apply(physics.SwitchLoad{Load: 0, On: true})
	flow := make([]float64, samples)
	for i := range flow {
		step(1)
		flow[i] = p.GridW
	}
	return flow, nil
}

// growth is by which factor a swing of two complex roots shrinks or grows per sample: of
// y = A r^n cos(w n + c), y[n]^2 - y[n+1] y[n-1] is (A sin w)^2 r^2n, whatever the phase.
func growth(y []float64, from, to int) float64 {
	size := func(n int) float64 { return y[n]*y[n] - y[n+1]*y[n-1] }
	return math.Pow(size(to)/size(from), 1/(2*float64(to-from)))
}

// loopPair shows the same loop just under and just over its limit.
func loopPair() (Picture, error) {
	const delay, samples = 1, 200
	limit := physics.SampledDelayLimit(delay)
	var panels []Panel
	var all []Check
	for i, x := range []struct {
		share, radius float64
		name          string
	}{{0.99, 0.994987, "1 % under the limit"}, {1.01, 1.004988, "1 % over the limit"}} {
		y, err := swing(x.share*limit, delay, samples)
		if err != nil {
			return Picture{}, err
		}
		c := Curve{Name: x.name, Hue: i}
		for n, v := range y {
			c.add(float64(n+1), v)
		}
		panels = append(panels, Panel{X: Axis{Label: "time after the load came on, samples of 1 s"}, Y: Axis{Label: "grid flow, W", Min: -3200, Max: 3200}, Curves: []Curve{c}})
		all = append(all,
			Check{ID: "ST-12", What: x.name + ": growth per sample of the plant", Value: x.radius, Model: growth(y, 20, 180), Tolerance: 1e-6, Mark: Recomputed, X: nan},
			Check{ID: "ST-12", What: x.name + ": largest root", Value: x.radius, Model: physics.SampledLoop{Delay: delay}.SpectralRadius(x.share * limit), Tolerance: 1e-6, Mark: Recomputed, X: nan})
	}
	at, err := swing(limit, delay, samples)
	if err != nil {
		return Picture{}, err
	}
	all = append(all, Check{ID: "ST-07", What: "at the limit: period, samples", Value: 6, Model: period(at[20:]), Tolerance: 1e-6, Mark: Recomputed, X: nan})
	return Picture{
		ID: "loop-pair", Title: "The same loop just under and just over its limit", Panels: panels, Checks: all,
		Formula: "a plant, stepped by 100 ms: meter refreshed each second and told one second late (d = 1), integrator of gain 0.99 and 1.01; a load of 1 kW comes on",
		Source:  "ST-12 and ST-07 recomputed from the characteristic polynomial z² − z + g.",
		Note:    "The values are rates of growth and a period, which have no place on this paper; they stand in the table below.",
	}, nil
}

// period is the mean distance of the upward crossings of zero, found between samples by straight lines.
func period(y []float64) float64 {
	var up []float64
	for n := range len(y) - 1 {
		if y[n] < 0 && y[n+1] >= 0 {
			up = append(up, float64(n)-y[n]/(y[n+1]-y[n]))
		}
	}
	if len(up) < 2 {
		return nan
	}
	return (up[len(up)-1] - up[0]) / float64(len(up)-1)
}

package atlas

import (
	"math"

	"kilter/physics"
)

// stepAnswer commands an inverter from 0 to a power and back, and returns its output at each 100 ms.
func stepAnswer(stepMS int64, rampWps, lagS, deadS, powerW float64) (Curve, error) {
	var c Curve
	p, err := physics.New(physics.Site{
		StepMS: stepMS, Seed: 1, Phases: 1,
		Supply:  physics.Supply{VoltageV: 230, FrequencyHz: 50},
		Feeders: []physics.Feeder{{Name: "supply", Parent: -1}},
		Inverters: []physics.InverterParams{{Name: "north", RatingW: 5000, Efficiency: 0.96, DeadTimeS: deadS, RampUpWps: rampWps, RampDownWps: 2 * rampWps, LagS: lagS,
			Battery: physics.BatteryParams{CapacityWh: 10000, ChargeEfficiency: 0.97, DischargeEfficiency: 0.97, MaxChargeW: 6000, MaxDischargeW: 6000, InitialSOC: 0.5, TaperAboveSOC: 1},
			Loop:    physics.LoopParams{Meter: -1}}},
	})
	if err != nil {
		return c, err
	}
	p.SetMode(0, physics.FollowSetpoint)
	c.add(0, 0)
	for p.TimeMS() < 12_000 {
		switch p.TimeMS() {
		case 1000:
			p.SetSetpoint(0, powerW)
		case 7000:
			p.SetSetpoint(0, 0)
		}
		p.Step()
		if p.TimeMS()%100 == 0 {
			c.add(float64(p.TimeMS())/1000, p.Inverters[0].PowerW)
		}
	}
	return c, nil
}

// actuator is an inverter's answer to a command, at two lengths of step.
func actuator() (Picture, error) {
	const powerW = 3000.0
	coarse, err := stepAnswer(100, 1500, 0.5, 0.3, powerW)
	if err != nil {
		return Picture{}, err
	}
	fine, err := stepAnswer(10, 1500, 0.5, 0.3, powerW)
	if err != nil {
		return Picture{}, err
	}
	lag, err := stepAnswer(100, 0, 0.5, 0, powerW)
	if err != nil {
		return Picture{}, err
	}
	apart := 0.0
	for i := range coarse.Y {
		apart = max(apart, math.Abs(coarse.Y[i]-fine.Y[i]))
	}
	coarse.Name, coarse.Hue = "dead time, ramp and lag, 100 ms steps", 0
	fine.Name, fine.Hue, fine.Dashed = "the same, 10 ms steps", 1, true
	lag.Name, lag.Hue = "lag alone", 2
	all := []Check{
		{ID: "SR-11", What: "lag alone, share of the step after τ", Value: 0.632120559, Model: lag.Y[15] / powerW, Tolerance: 1e-9, Mark: Recomputed, X: 1.5, Y: 0.632120559 * powerW},
		{ID: "steps", What: "largest difference between 10 ms and 100 ms steps", Value: 0, Model: apart, Tolerance: 1e-6, Unit: "W", Mark: ByHand, X: nan},
	}
	return Picture{
		ID: "actuator", Title: "An inverter’s answer to a command", Checks: all,
		Panels:  []Panel{{X: Axis{Label: "time, s"}, Y: Axis{Label: "AC power, W (charging positive)"}, Curves: []Curve{lag, coarse, fine}}},
		Formula: "after 0.3 s the command follows at 1500 W/s up and 3000 W/s down, the output by τ·dy/dt = u − y, τ = 0.5 s, both exactly within a step",
		Source:  "Ramp and first-order lag in closed form; SR-11 recomputed.",
		Note:    "That the two lengths of step lie on one another is the point: results do not depend on the step.",
	}, nil
}

package atlas

import (
	"fmt"
	"math"

	"kilter/physics"
)

// bare is a site of the given step without any device.
func bare(stepMS int64) physics.Site {
	return physics.Site{StepMS: stepMS, Seed: 1, Phases: 1,
		Supply: physics.Supply{VoltageV: 230, FrequencyHz: 50}, Feeders: []physics.Feeder{{Name: "supply", Parent: -1}}}
}

// energy is a battery that is charged and discharged by the plant.
func energy() (Picture, error) {
	s := bare(1000)
	s.Inverters = []physics.InverterParams{{Name: "north", RatingW: 6000, Efficiency: 1, Loop: physics.LoopParams{Meter: -1},
		Battery: physics.BatteryParams{CapacityWh: 10000, ChargeEfficiency: 0.95, DischargeEfficiency: 0.96, MaxChargeW: 6000, MaxDischargeW: 6000, InitialSOC: 0.5, TaperAboveSOC: 1}}}
	p, err := physics.New(s)
	if err != nil {
		return Picture{}, err
	}
	p.SetMode(0, physics.FollowSetpoint)
	p.SetSetpoint(0, 5000)
	soc, at := Curve{Name: "the plant’s battery, 10 kWh"}, map[int]float64{}
	soc.add(0, 100*p.Inverters[0].Battery.SOC)
	for s := 1; s <= 75*60; s++ {
		if s == 30*60+1 {
			p.SetSetpoint(0, -4000)
		}
		p.Step()
		at[s] = p.Inverters[0].Battery.SOC
		if s%30 == 0 {
			soc.add(float64(s)/60, 100*at[s])
		}
	}
	v := &p.Inverters[0]
	all := checks{
		{ID: "BA-02", What: "SOC after +5 kW for 30 min, efficiency 0.95", Value: 0.7375, Model: at[1800], Tolerance: 1e-9, Mark: Recomputed, X: 30, Y: 73.75},
		{ID: "BA-03", What: "SOC after then −4 kW for 45 min, efficiency 0.96", Value: 0.425, Model: at[4500], Tolerance: 1e-9, Mark: Recomputed, X: 75, Y: 42.5},
		{ID: "BA-05", What: "each way of a round trip of 0.90", Value: 0.948683298, Model: physics.SplitRoundTrip(0.90), Tolerance: 1e-9, Mark: Recomputed, X: nan},
		{ID: "audit", What: "energy that came from nowhere", Value: 0, Model: p.Audit().EnergyResidualWh, Tolerance: physics.AuditLimitWh, Unit: "Wh", Mark: ByHand, X: nan},
		{ID: "BA-04", What: "lost of 2500 Wh in and 3000 Wh out", Value: 2500*0.05 + 3000*(1/0.96-1), Model: v.Battery.LostWh(), Tolerance: 1e-6, Unit: "Wh", Mark: ByHand, X: nan},
	}
	return Picture{
		ID: "energy", Title: "State of charge by energy", Checks: all,
		Panels:  []Panel{{X: Axis{Label: "time, min"}, Y: Axis{Label: "state of charge, %"}, Curves: []Curve{soc}}},
		Formula: "dE/dt = ηc·P while charging, P/ηd while discharging;   SOC = E/10 kWh, ηc = 0.95, ηd = 0.96",
		Source:  "Energy bookkeeping; BA-02 to BA-05 recomputed.",
	}, nil
}

// loads are an oven on its thermostat and a motor's start.
func loads() (Picture, error) {
	const tau, heated, in, out = 900.0, 400.0, 195.0, 205.0
	const fullW, factor, inrushS = 1500.0, 5.0, 0.3
	s := bare(100)
	s.Loads = []physics.LoadParams{{Name: "oven", Kind: physics.ThermostatLoad, PowerW: 9000, On: true, TimeConstantS: tau, HeatedC: heated, CutInC: in, CutOutC: out, InitialC: 195}}
	p, err := physics.New(s)
	if err != nil {
		return Picture{}, err
	}
	rise := Curve{Name: "temperature of the oven over ambient"}
	var offS []float64
	called := false
	for p.TimeMS() < 300_000 {
		p.Step()
		l := &p.Loads[0]
		if called && !l.Calls {
			offS = append(offS, float64(p.TimeMS())/1000)
		}
		called = l.Calls
		if p.TimeMS()%1000 == 0 {
			rise.add(float64(p.TimeMS())/1000, l.RiseC)
		}
	}
	if len(offS) < 2 {
		return Picture{}, fmt.Errorf("the oven switched off %d times in 300 s", len(offS))
	}
	fine := bare(10)
	fine.Loads = []physics.LoadParams{{Name: "mixer", Kind: physics.MotorLoad, PowerW: fullW, InrushFactor: factor, InrushS: inrushS}}
	m, err := physics.New(fine)
	if err != nil {
		return Picture{}, err
	}
	motor, atTau := Curve{Name: "power of a motor that starts", Hue: 1}, 0.0
	motor.add(0, 0)
	for m.TimeMS() < 2500 {
		if m.TimeMS() == 500 {
			m.Apply(physics.SwitchLoad{Load: 0, On: true})
			motor.add(0.5, 0)
			motor.add(0.5, factor*fullW)
		}
		m.Step()
		motor.add(float64(m.TimeMS())/1000, m.Loads[0].PowerW)
		if m.TimeMS() == 500+1000*inrushS {
			atTau = m.Loads[0].PowerW
		}
	}
	wantW := fullW + (factor-1)*fullW*math.Exp(-1)
	heat, cool := tau*math.Log((heated-in)/(heated-out)), tau*math.Log(out/in)
	all := checks{
		{ID: "cycle", What: "heating and cooling once, " + figure(heat, 4) + " s and " + figure(cool, 4) + " s", Value: heat + cool, Model: offS[len(offS)-1] - offS[len(offS)-2], Tolerance: 0.4, Unit: "s", Mark: ByHand,
			X: heat, Y: out, Silent: true},
		{ID: "inrush", What: "1500 + 6000/e W after one time constant", Value: wantW, Model: atTau, Tolerance: 1e-6, Unit: "W", Mark: ByHand, Panel: 1, X: 0.5 + inrushS, Y: wantW, Silent: true},
	}
	return Picture{
		ID: "loads", Title: "An oven on its thermostat, a motor’s start", Checks: all,
		Panels: []Panel{
			{X: Axis{Label: "time, s"}, Y: Axis{Label: "temperature over ambient, K"}, Curves: []Curve{rise}},
			{X: Axis{Label: "time, s"}, Y: Axis{Label: "power, W"}, Curves: []Curve{motor}},
		},
		Formula:       "τ·dT/dt = Tend − T, heat on at 195 K and off at 205 K, τ = 900 s, Tend = 400 K;   P = Pn·(1 + 4·e^(−t/0.3 s))",
		Source:        "Lumped capacity and exponential inrush, common practice, no source.",
		WithoutPoints: "Ovens and motors differ, and nothing general is published; the squares are worked out by hand. The thermostat is looked at once a tick of 0.1 s.",
	}, nil
}

// meterTells is a meter that is late, coarse and wrong.
func meterTells() (Picture, error) {
	s := bare(100)
	s.Meters = []physics.MeterParams{{Name: "grid", RefreshS: 3, LatencyS: 1, OffsetW: 40, GainError: 0.02, ResolutionW: 10}}
	s.Loads = []physics.LoadParams{{Name: "shop", Kind: physics.ProfileLoad, On: true,
		Profile: []physics.ProfilePoint{{AtMS: 0, PowerW: 500}, {AtMS: 5000, PowerW: 500}, {AtMS: 25000, PowerW: 2500}, {AtMS: 30000, PowerW: 2500}}}}
	p, err := physics.New(s)
	if err != nil {
		return Picture{}, err
	}
	truth, told := Curve{Name: "true flow"}, Curve{Name: "told by the meter", Hue: 1}
	read := map[int64]float64{}
	for p.TimeMS() < 30_000 {
		p.Step()
		t := float64(p.TimeMS()) / 1000
		truth.add(t, p.GridW)
		if now := p.Meters[0].ReadingW; len(told.Y) > 0 && told.Y[len(told.Y)-1] != now {
			told.add(t, told.Y[len(told.Y)-1]) // the step is upright
			told.add(t, now)
		} else {
			told.add(t, now)
		}
		read[p.TimeMS()] = p.Meters[0].ReadingW
	}
	var all checks
	for _, x := range []struct {
		ms    int64
		value float64
	}{{14_500, 1260}, {20_500, 1880}, {29_500, 2590}} {
		all = append(all, Check{ID: "reading", What: fmt.Sprintf("told at %g s: the flow of the last sample × 1.02 + 40 W, rounded to 10 W", float64(x.ms)/1000), Value: x.value, Model: read[x.ms], Unit: "W",
			Mark: ByHand, X: float64(x.ms) / 1000, Y: x.value, Silent: true})
	}
	return Picture{
		ID: "meter", Title: "A meter that is late, coarse and a little wrong", Checks: all,
		Panels:        []Panel{{X: Axis{Label: "time, s"}, Y: Axis{Label: "grid flow, W"}, Curves: []Curve{truth, told}}},
		Formula:       "reading = (1 + g)·P + b, sampled every 3 s, told 1 s later, rounded to 10 W;   g = 2 %, b = 40 W",
		Source:        "Sample and hold, common practice.",
		WithoutPoints: "It is a definition and no law; the squares are worked out by hand.",
	}, nil
}

// vehicle is a vehicle that follows what its charger offers.
func vehicle() (Picture, error) {
	s := bare(100)
	s.Chargers = []physics.ChargerParams{{Name: "van", MaxA: 32, MinA: physics.PilotMinA, ResponseS: 3, RampAps: 4, CommandedA: 6}}
	p, err := physics.New(s)
	if err != nil {
		return Picture{}, err
	}
	p.Apply(physics.PlugIn{CurrentA: 32})
	offered, drawn := Curve{Name: "offered by the charger", Dashed: true, Hue: 1}, Curve{Name: "drawn by the vehicle"}
	steps := map[int64]float64{10_000: 16, 25_000: 32, 40_000: 10, 55_000: 5}
	settled := map[int64]float64{}
	offer := 6.0
	for p.TimeMS() < 70_000 {
		if a, is := steps[p.TimeMS()]; is {
			offered.add(float64(p.TimeMS())/1000, offer)
			p.SetChargerLimit(0, a)
			offer = a
			offered.add(float64(p.TimeMS())/1000, offer)
		}
		p.Step()
		t := float64(p.TimeMS()) / 1000
		offered.add(t, offer)
		drawn.add(t, p.Chargers[0].CurrentA)
		settled[p.TimeMS()] = p.Chargers[0].PowerW
	}
	var all checks
	for _, x := range []struct {
		ms          int64
		amps, watts float64
	}{{9_000, 6, 1380}, {24_000, 16, 3680}, {39_000, 32, 7360}, {54_000, 10, 2300}} {
		all = append(all, Check{ID: "EV-09", What: figure(x.amps, 2) + " A at 230 V", Value: x.watts, Model: settled[x.ms], Tolerance: 1e-9, Unit: "W", Mark: Recomputed, X: float64(x.ms) / 1000, Y: x.amps})
	}
	all = append(all, Check{ID: "EV-05", What: "an offer of 5 A: the session pauses", Value: 0, Model: settled[69_000], Unit: "W", Mark: FromMemory, X: 69, Y: 0},
		Check{ID: "EV-09", What: "32 A on three conductors", Value: 22080, Model: physics.ChargingPower(32, 230, 3), Tolerance: 1e-9, Unit: "W", Mark: Recomputed, X: nan})
	return Picture{
		ID: "vehicle", Title: "A vehicle that follows its charger’s offer", Checks: all,
		Panels:  []Panel{{X: Axis{Label: "time, s"}, Y: Axis{Label: "current per conductor, A"}, Curves: []Curve{drawn, offered}}},
		Formula: "after the response time of 3 s the current follows at 4 A/s, never between 0 and 6 A in the steady state;   P = I·230 V·conductors",
		Source:  "IEC 61851-1:2017 annex A (EV-05, secondary; that a session pauses rather than shrinks is from memory); EV-09 arithmetic, recomputed.",
		Note:    "Response time and ramp are an example: the standard lets a vehicle take up to 5 s (EV-10, from memory).",
	}, nil
}

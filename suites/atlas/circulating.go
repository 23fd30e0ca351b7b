package atlas

import "kilter/physics"

// pairSite is two batteries with integrators of gains k1 and k2, each on a meter of its own at the inlet with
// an offset [W], and a constant load.
func pairSite(k1, k2, b1, b2 float64) physics.Site {
	inverter := func(name string, meter int, gain float64) physics.InverterParams {
		return physics.InverterParams{Name: name, RatingW: 5000, Efficiency: 0.96,
			Battery: physics.BatteryParams{CapacityWh: 10000, ChargeEfficiency: 0.97, DischargeEfficiency: 0.97, MaxChargeW: 6000, MaxDischargeW: 6000, InitialSOC: 0.5, TaperAboveSOC: 1},
			Loop:    physics.LoopParams{Meter: meter, Gain: gain, PeriodS: 1}}
	}
	return physics.Site{
		StepMS: 100, Seed: 1, Phases: 1,
		Supply:    physics.Supply{VoltageV: 230, FrequencyHz: 50},
		Feeders:   []physics.Feeder{{Name: "supply", Parent: -1}},
		Meters:    []physics.MeterParams{{Name: "of north", RefreshS: 1, OffsetW: b1}, {Name: "of south", RefreshS: 1, OffsetW: b2}},
		Inverters: []physics.InverterParams{inverter("north", 0, k1), inverter("south", 1, k2)},
		Loads:     []physics.LoadParams{{Name: "base", PowerW: 500, On: true}},
	}
}

// drift is what a pair does once its loops have settled.
type drift struct {
	north, south, grid Curve
	apartWps, gridW    float64 // rate at which south less north grows [W/s], mean grid flow [W]
}

func driftOf(k1, k2, b1, b2 float64) (drift, error) {
	const settledS, endS = 120, 420
	var d drift
	p, err := physics.New(pairSite(k1, k2, b1, b2))
	if err != nil {
		return d, err
	}
	apart := func() float64 { return p.Inverters[1].PowerW - p.Inverters[0].PowerW }
	from := 0.0
	for s := 1; s <= endS; s++ {
		for range 10 {
			p.Step()
			if s > settledS {
				d.gridW += p.GridW / (10 * (endS - settledS))
			}
		}
		if s == settledS {
			from = apart()
		}
		d.north.add(float64(s), p.Inverters[0].PowerW)
		d.south.add(float64(s), p.Inverters[1].PowerW)
		d.grid.add(float64(s), p.GridW)
	}
	d.apartWps = (apart() - from) / (endS - settledS)
	return d, nil
}

// circulating is the drift of two batteries whose meters disagree.
func circulating() (Picture, error) {
	var all []Check
	for _, x := range []struct {
		id               string
		k1, k2, b1, b2   float64
		apart, grid      float64
		mark             Mark
		what             string
		tolDrift, tolGrd float64
	}{
		{"ST-14", 0.1, 0.1, 20, -20, 4, 0, Recomputed, "gains 0.1, offsets ±20 W", 4e-4, 1e-6},
		{"ST-15", 0.1, 0.1, 30, 0, 3, -15, Recomputed, "gains 0.1, offset 30 W of one", 3e-4, 1.5e-3},
		{"closed form", 0.3, 0.2, 12, -8, 2 * 0.3 * 0.2 * 20 / 0.5, -(0.3*12 - 0.2*8) / 0.5, ByHand, "gains 0.3 and 0.2, offsets 12 and −8 W", 5e-4, 1e-3},
	} {
		d, err := driftOf(x.k1, x.k2, x.b1, x.b2)
		if err != nil {
			return Picture{}, err
		}
		all = append(all,
			Check{ID: x.id, What: x.what + ": the powers part by", Value: x.apart, Model: d.apartWps, Tolerance: x.tolDrift, Unit: "W/s", Mark: x.mark, X: nan},
			Check{ID: x.id, What: x.what + ": grid flow settles at", Value: x.grid, Model: d.gridW, Tolerance: x.tolGrd, Unit: "W", Mark: x.mark, X: nan})
	}
	d, err := driftOf(0.1, 0.1, 30, 0)
	if err != nil {
		return Picture{}, err
	}
	d.north.Name, d.south.Name, d.grid.Name = "north (offset 30 W)", "south (no offset)", "grid flow"
	d.south.Hue, d.grid.Hue = 1, 2
	// From where the loops have settled, straight on at the published rate.
	published := func(c Curve, rate float64) Curve {
		at := func(s float64) float64 { return c.Y[119] + rate*(s-120) }
		return line("published rate ST-15", 3, 120, 420, 1, at).dashed()
	}
	all[3].Panel, all[3].X, all[3].Y = 1, 300, all[3].Value
	return Picture{
		ID: "circulating", Title: "Circulating power of two batteries", Checks: all,
		Panels: []Panel{
			{X: Axis{Label: "time, s"}, Y: Axis{Label: "power, W (charging positive)"}, Curves: []Curve{d.north, d.south, published(d.north, -1.5), published(d.south, 1.5)}},
			{X: Axis{Label: "time, s"}, Y: Axis{Label: "grid flow, W", Min: -30, Max: 30}, Curves: []Curve{d.grid}},
		},
		Formula: "grid → −(k1·b1 + k2·b2)/(k1 + k2);   the powers part by k1·k2·(b1 − b2)/((k1 + k2)·Ts) each",
		Source:  "Two sampled integrators on meters whose offsets differ, by hand; ST-14 and ST-15 recomputed, here in units of 1 kW.",
		Note:    "Nobody told the plant to circulate: it is stepped with two meters of its own and a constant load of 500 W. Grid flow stands still and looks healthy meanwhile.",
	}, nil
}

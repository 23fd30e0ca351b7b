package trust

import (
	"fmt"

	"kilter/physics"
)

// drawSite draws who is wired where: two to four inverters behind one inlet, each
// with a meter of its own there, and a grid meter for the controller. The ranges
// are those of home and small-business batteries; common practice, no source.
func drawSite(c chance) physics.Site {
	s := physics.Site{
		StepMS: stepMS, Seed: c.Uint64(), Phases: pick(c, 1, 3),
		Feeders: []physics.Feeder{{Name: "supply", Parent: -1}},
	}
	fuseA := pick(c, 25.0, 32, 40)
	if s.Phases == 1 {
		fuseA = pick(c, 63.0, 80, 100)
	}
	s.Supply = physics.Supply{VoltageV: 230, FrequencyHz: 50, ResistanceOhm: c.between(0.05, 0.3), ReactanceOhm: c.between(0.03, 0.15), FuseA: fuseA}
	s.Meters = append(s.Meters, drawMeter(c, "grid_meter"))
	for i := range pick(c, 2, 2, 2, 3, 4) {
		s.Meters = append(s.Meters, drawMeter(c, fmt.Sprintf("meter_%d", i+1)))
		s.Inverters = append(s.Inverters, drawInverter(c, i))
	}
	return s
}

func drawMeter(c chance, name string) physics.MeterParams {
	m := physics.MeterParams{
		Name: name, RefreshS: pick(c, 0.2, 0.5, 1, 1, 1, 2), LatencyS: c.seconds(0, 1.5),
		OffsetW: c.between(-20, 20), GainError: c.between(-0.01, 0.01), NoiseW: c.between(0, 5), ResolutionW: pick(c, 0.0, 1, 1, 5),
	}
	m.PhaseS = c.seconds(0, m.RefreshS-stepS)
	return m
}

func drawInverter(c chance, i int) physics.InverterParams {
	rating := c.between(1500, 6000)
	v := physics.InverterParams{
		Name: fmt.Sprintf("inverter_%d", i+1), RatingW: rating, Efficiency: c.between(0.92, 0.98),
		DeadTimeS: c.seconds(0, 1), LagS: pick(c, 0.0, 0.3, 0.5, 0.8, 1.5), ReconnectS: 60,
	}
	// Three kinds of ramp: none, alike both ways, and slower upwards.
	switch ramp := rating * c.mostly(0.1, 1); c.IntN(4) {
	case 0:
	case 1:
		v.RampUpWps, v.RampDownWps = ramp, ramp*c.between(1, 3)
	default:
		v.RampUpWps, v.RampDownWps = ramp, ramp
	}
	v.Battery = physics.BatteryParams{
		CapacityWh: rating * c.between(1.5, 4), ChargeEfficiency: c.between(0.95, 0.99), DischargeEfficiency: c.between(0.95, 0.99),
		MaxChargeW: rating, MaxDischargeW: rating * 1.1, InitialSOC: c.between(0.25, 0.8), ReserveSOC: pick(c, 0.05, 0.1, 0.2),
		TaperAboveSOC: pick(c, 0.9, 0.95, 1), TaperBelowSOC: pick(c, 0.0, 0.05),
	}
	v.Loop = physics.LoopParams{Meter: i + 1, Gain: 1, PeriodS: pick(c, 0.5, 1, 1, 2)}
	v.Loop.PhaseS = c.seconds(0, v.Loop.PeriodS-stepS)
	return v
}

// ratingsW is what all inverters can do together.
func ratingsW(s *physics.Site) (sum float64) {
	for i := range s.Inverters {
		sum += s.Inverters[i].RatingW
	}
	return sum
}

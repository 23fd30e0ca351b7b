package physics

import (
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

func TestPhysics(t *testing.T) {
	RegisterFailHandler(Fail)
	RunSpecs(t, "physics")
}

// pair is the textbook site: two batteries, each with its own meter at the
// inlet, ideal actuators, and a constant load.
func pair(k1, k2, b1, b2, periodS, loadW float64) Site {
	inverter := func(name string, meter int, gain float64) InverterParams {
		return InverterParams{
			Name: name, RatingW: 5000, Efficiency: 0.96,
			Battery: BatteryParams{
				CapacityWh: 10000, ChargeEfficiency: 0.97, DischargeEfficiency: 0.97,
				MaxChargeW: 6000, MaxDischargeW: 6000, InitialSOC: 0.5, TaperAboveSOC: 0.95, TaperBelowSOC: 0.05,
			},
			Loop: LoopParams{Meter: meter, Gain: gain, PeriodS: periodS},
		}
	}
	return Site{
		StepMS: 100, Seed: 1, Phases: 1,
		Supply:  Supply{VoltageV: 230, FrequencyHz: 50},
		Feeders: []Feeder{{Name: "supply", Parent: -1}},
		Meters: []MeterParams{
			{Name: "one", RefreshS: periodS, OffsetW: b1},
			{Name: "two", RefreshS: periodS, OffsetW: b2},
		},
		Inverters: []InverterParams{inverter("north", 0, k1), inverter("south", 1, k2)},
		Loads:     []LoadParams{{Name: "base", PowerW: loadW, On: true}},
	}
}

// bakery is a site of realistic size for laws and benchmarks.
func bakery() Site {
	s := pair(0.25, 0.2, 12, -8, 1, 700)
	s.Phases = 3
	s.Feeders = append(s.Feeders, Feeder{Name: "bakehouse", Parent: 0}, Feeder{Name: "yard", Parent: 0})
	for i := range s.Meters {
		s.Meters[i].NoiseW, s.Meters[i].ResolutionW, s.Meters[i].LatencyS = 3, 1, 0.3
	}
	s.Meters = append(s.Meters, MeterParams{Name: "grid", RefreshS: 1, LatencyS: 0.2, NoiseW: 3, ResolutionW: 1})
	for i := range s.Inverters {
		v := &s.Inverters[i]
		v.DeadTimeS, v.LagS, v.RampUpWps, v.RampDownWps = 0.3, 0.5, 1000, 2000
		v.Loop.DeadbandW = 10
		v.Loop.PhaseS = 0.5 * float64(i)
	}
	s.Loads = append(s.Loads,
		LoadParams{Name: "oven", Feeder: 1, Kind: ThermostatLoad, PowerW: 9000, On: true,
			TimeConstantS: 900, HeatedC: 400, CutInC: 195, CutOutC: 205, InitialC: 200},
		LoadParams{Name: "proofers", Feeder: 1, Kind: ThermostatLoad, PowerW: 2000, On: true,
			TimeConstantS: 600, HeatedC: 30, CutInC: 9, CutOutC: 11, InitialC: 10},
		LoadParams{Name: "mixer", Feeder: 1, Kind: MotorLoad, PowerW: 1500, InrushFactor: 5, InrushS: 0.3},
	)
	s.Arrays = []ArrayParams{{Name: "roof", PeakW: 12000, RatingW: 10000, TiltDeg: 30, AzimuthDeg: 180,
		LossFraction: 0.12, TempCoeffPerK: -0.004, AmbientTempC: 18, NoctTempC: 45, GroundAlbedo: 0.2}}
	s.Chargers = []ChargerParams{{Name: "van", Feeder: 2, MaxA: 16, MinA: 6, ResponseS: 2, RampAps: 4, CommandedA: 16}}
	s.Sky = SkyParams{LatitudeDeg: 59.9, LongitudeDeg: 10.7, StartUnixS: 1781740800} // 2026-06-18 00:00 UTC
	return s
}

// mustNew makes a plant or fails the spec.
func mustNew(s Site) *Plant {
	GinkgoHelper()
	p, err := New(s)
	Expect(err).NotTo(HaveOccurred())
	return p
}

// run steps a plant for a number of simulated seconds.
func run(p *Plant, seconds float64) {
	for n := int64(seconds*1000) / p.site.StepMS; n > 0; n-- {
		p.Step()
	}
}

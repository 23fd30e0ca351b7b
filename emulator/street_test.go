package emulator_test

import (
	"fmt"
	"time"

	. "github.com/onsi/ginkgo/v2"

	"kilter/physics"
	"kilter/scenarios"
)

// street is a site of many houses behind one supply, each with a feeder, a meter, loads that come and
// go, and a battery inverter that follows the meter by itself. The inverters answer on the wire.
func street(houses int, lasts time.Duration) *scenarios.Scenario {
	GinkgoHelper()
	// Parameters of one inverter and of the meter that it follows come from a story that is known to be sound.
	model := story("calm-start").Site.Plant
	inverter := model.Inverters[0]
	meter := model.Meters[inverter.Loop.Meter]

	site := &scenarios.Site{Name: "street", Title: "a street of houses"}
	plant := &site.Plant
	plant.Phases, plant.Supply, plant.Sky = 3, model.Supply, model.Sky
	// One fuse and one cable of a house would not carry a street.
	plant.Supply.FuseA, plant.Supply.FuseMelts = 0, false
	plant.Supply.ResistanceOhm, plant.Supply.ReactanceOhm = model.Supply.ResistanceOhm/float64(houses), 0
	plant.Feeders = []physics.Feeder{{Name: "street", Parent: -1}}
	for i := range houses {
		house := fmt.Sprintf("house%04d", i)
		phase := physics.L1 + physics.Phases(i%3)
		plant.Feeders = append(plant.Feeders, physics.Feeder{Name: house, Parent: 0})

		meter.Name, meter.Feeder, meter.Phases = house+"_ct", 1+i, phase
		plant.Meters = append(plant.Meters, meter)

		inverter.Name, inverter.Feeder, inverter.Phases, inverter.Loop.Meter = house+"_battery", 1+i, phase, i
		plant.Inverters = append(plant.Inverters, inverter)

		plant.Loads = append(plant.Loads, physics.LoadParams{
			Name: house + "_appliances", Feeder: 1 + i, Phases: phase,
			Kind: physics.RandomLoad, PowerW: 2000, MeanOnS: 20, MeanGapS: 40,
		})
		site.Devices = append(site.Devices,
			scenarios.Device{Name: house + "_ct", Kind: scenarios.Meter, Index: i, Feeder: house},
			scenarios.Device{Name: house + "_battery", Kind: scenarios.Inverter, Index: i, Feeder: house,
				Wire: &scenarios.Wire{Map: "sunspec", Unit: 1, ReplyTimeout: time.Second}},
		)
	}
	return &scenarios.Scenario{
		Name: "street", Site: site, Zone: time.UTC, Starts: time.Date(2025, 6, 2, 12, 0, 0, 0, time.UTC),
		Lasts: lasts, Seed: 1, Step: scenarios.DefaultStep, Source: "street",
	}
}

package criteria_test

import (
	"testing"
	"time"

	"kilter/suites/criteria"
	"kilter/suites/formula"
)

// all is one monitor of each kind, with the limits of a typical story.
func all(h time.Duration) []criteria.Monitor {
	return []criteria.Monitor{
		must(criteria.NewImport(criteria.FlowLimit{BelowW: 18000, Except: 2 * time.Second}, h)),
		must(criteria.NewExport(criteria.FlowLimit{BelowW: 5000, Except: 2 * time.Second}, h)),
		must(criteria.NewSettle(criteria.Settle{BandW: 200, Within: time.Minute}, h)),
		must(criteria.NewHunting(criteria.Hunting{BelowW: 150, GoneWithin: 2 * time.Minute}, h)),
		must(criteria.NewCirculating(criteria.Circulating{BelowW: 120, Except: 30 * time.Second}, h)),
		must(criteria.NewSOCSpread(criteria.SOCSpread{Below: 0.08}, h)),
		must(criteria.NewReserve(criteria.Reserve{Below: 0.01, Except: 5 * time.Second, Names: bothNames}, h)),
		must(criteria.NewSupplyCurrent(criteria.SupplyCurrent{Except: 10 * time.Second}, h)),
		must(criteria.NewFuseHeating(must32(), h)),
		must(criteria.NewSchedule(criteria.Schedule{Target: 0.9, Below: 0.02, Efficiency: 0.85, Names: bothNames}, h)),
		must(criteria.NewAvoidableImport(criteria.AvoidableEnergy{BelowWh: 200}, h)),
		must(criteria.NewAvoidableExport(criteria.AvoidableEnergy{BelowWh: 200}, h)),
		must(criteria.NewWear(criteria.Wear{CyclesPerDay: bound(1.5), ReversalsPerHour: bound(10), ModeFlipsPerHour: bound(10), Names: bothNames}, h)),
		must(criteria.NewCommandEconomy(criteria.CommandEconomy{WritesPerHour: bound(60), Gap: 2 * time.Second, Devices: devices}, h)),
		must(criteria.NewWireManners(criteria.WireManners{ReadsPerS: 5, Over: 10 * time.Second, Devices: devices}, h)),
		must(criteria.NewFailSafe(criteria.FailSafe{BelowW: 100, Within: time.Minute, NativeIsSafe: true, Names: bothNames}, h)),
		must(criteria.NewRecovery(criteria.Recovery{BandW: 200, Within: time.Minute, Hold: 10 * time.Second}, h)),
		must(criteria.NewReversion(criteria.Reversion{Within: 10 * time.Second, Names: bothNames}, h)),
		must(criteria.NewFormula(said("settles", "always (grid > 3 kW implies eventually within 20 s (always for 5 s grid < 1 kW))"), h)),
	}
}

// spoken are the signals of the tests' sentences; the samples have them in this order.
var spoken = []formula.Signal{{Name: "grid", Unit: formula.Watt}, {Name: "north", Unit: formula.Watt}, {Name: "north.soc"}}

// said is a sentence about them.
func said(name, sentence string) criteria.Formula {
	of, err := formula.Parse(sentence, spoken)
	if err != nil {
		panic(err)
	}
	return criteria.Formula{Name: name, Sentence: sentence, Of: of, Signals: len(spoken)}
}

// say fills a sample's signals.
func say(s *criteria.Sample) {
	s.Signals = append(s.Signals[:0], s.GridW, s.Inverters[0].ACPowerW, s.Inverters[0].SOC)
}

// devices are those on the bakery's wire.
var devices = []string{"north", "south", "grid_meter", "price_signal", "van_charger", "panels"}

// must32 is the heating of the bakery's fuses.
func must32() criteria.FuseHeating {
	p, err := criteria.FuseGG(32, 0.9)
	if err != nil {
		panic(err)
	}
	return p
}

// observer feeds noisy samples, with a step of load each minute or none at all.
func observer(busy bool) (observe func()) {
	monitors := all(step)
	s := criteria.Sample{
		StepS: 0.1, FuseA: 32, Controller: criteria.ControllerPresent,
		Inverters: make([]criteria.InverterSample, 2), Phases: make([]criteria.PhaseSample, 3),
		Signals: make([]float64, 0, len(spoken)),
		Wire:    make([]criteria.WireSample, 0, 8), Writes: make([]criteria.WriteSample, 0, 8), Commands: make([]criteria.CommandSample, 0, 8),
	}
	noise := uint32(1)
	return func() {
		noise = noise*1664525 + 1013904223
		n := float64(noise>>24) / 16
		s.Tick++
		s.NetLoadW = 1000 + n
		if busy && s.Tick/600%2 == 1 {
			s.NetLoadW += 2000
		}
		s.Inverters[0] = criteria.InverterSample{
			ACPowerW: -600 + 10*n, BatteryW: -600 + 10*n, SOC: 0.5 - 1e-7*float64(s.Tick%1000000), ChargeRoomW: 3600, DischargeRoomW: 3600,
			Reserve: 0.1, CapacityWh: 10000, Mode: criteria.ModeSetpoint,
		}
		s.Inverters[1] = criteria.InverterSample{
			ACPowerW: -400 - 8*n, BatteryW: -400 - 8*n, SOC: 0.51 - 1e-7*float64(s.Tick%1000000), ChargeRoomW: 3000, DischargeRoomW: 3000,
			Reserve: 0.1, CapacityWh: 6400, Mode: criteria.ModeNative,
		}
		for p := range s.Phases {
			s.Phases[p] = criteria.PhaseSample{CurrentA: 5 + n/100, LeastA: 2, MostA: 20}
		}
		// A poll of ten reads each 10 s, in busy runs with a write of a limited life.
		s.Wire, s.Writes, s.Commands = s.Wire[:0], s.Writes[:0], s.Commands[:0]
		if s.Tick%100 == 0 {
			for d := range 5 {
				s.Wire = append(s.Wire, criteria.WireSample{Device: d, Reads: 2})
			}
			if busy {
				s.Writes = append(s.Writes, criteria.WriteSample{Device: 1, Register: 40123, Count: 2})
				s.Commands = append(s.Commands, criteria.CommandSample{Device: 1, Inverter: 2, Signal: "charge_limit", Limit: criteria.ChargeLimited, LastsS: 60})
				s.Inverters[1].Limits = criteria.ChargeLimited
			}
		}
		s.Cheap = busy && s.Tick/36000%2 == 1
		s.GridW = s.NetLoadW + s.Inverters[0].ACPowerW + s.Inverters[1].ACPowerW
		say(&s)
		for _, m := range monitors {
			m.Observe(&s)
		}
	}
}

func BenchmarkAllMonitors(b *testing.B) {
	for name, busy := range map[string]bool{"quiet": false, "busy": true} {
		b.Run(name, func(b *testing.B) {
			observe := observer(busy)
			b.ReportAllocs()
			for b.Loop() {
				observe()
			}
		})
	}
}

func BenchmarkEachMonitor(b *testing.B) {
	for i, m := range all(step) {
		b.Run(m.Name(), func(b *testing.B) {
			m := all(step)[i]
			s := criteria.Sample{StepS: 0.1, Inverters: make([]criteria.InverterSample, 2)}
			b.ReportAllocs()
			for b.Loop() {
				s.Tick++
				s.GridW = float64(s.Tick % 50)
				m.Observe(&s)
			}
		})
	}
}

package criteria_test

import (
	"testing"
	"time"

	"kilter/suites/criteria"
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
	}
}

// observer feeds noisy samples, with a step of load each minute or none at all.
func observer(busy bool) (observe func()) {
	monitors := all(step)
	s := criteria.Sample{StepS: 0.1, Inverters: make([]criteria.InverterSample, 2)}
	noise := uint32(1)
	return func() {
		noise = noise*1664525 + 1013904223
		n := float64(noise>>24) / 16
		s.Tick++
		s.NetLoadW = 1000 + n
		if busy && s.Tick/600%2 == 1 {
			s.NetLoadW += 2000
		}
		s.Inverters[0] = criteria.InverterSample{ACPowerW: -600 + 10*n, BatteryW: -600 + 10*n, SOC: 0.5, ChargeRoomW: 3600, DischargeRoomW: 3600}
		s.Inverters[1] = criteria.InverterSample{ACPowerW: -400 - 8*n, BatteryW: -400 - 8*n, SOC: 0.51, ChargeRoomW: 3000, DischargeRoomW: 3000}
		s.GridW = s.NetLoadW + s.Inverters[0].ACPowerW + s.Inverters[1].ACPowerW
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

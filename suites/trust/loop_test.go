package trust

import (
	"fmt"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/physics"
)

// bare is a case of n alike inverters whose meters all read every second, d seconds late.
func bare(of design, n int, gain float64, d int) *Case {
	k := &Case{Design: of, tuning: tuning{poll: 10, gain: gain, share: 0.5}}
	k.Site = physics.Site{StepMS: stepMS, Seed: 1, Phases: 1, Supply: physics.Supply{VoltageV: 230, FrequencyHz: 50},
		Feeders: []physics.Feeder{{Name: "supply", Parent: -1}}}
	for i := range n + 1 {
		k.Site.Meters = append(k.Site.Meters, physics.MeterParams{Name: fmt.Sprint("meter ", i), RefreshS: 1, LatencyS: float64(d)})
	}
	for i := range n {
		k.Site.Inverters = append(k.Site.Inverters, physics.InverterParams{
			Name: fmt.Sprint("inverter ", i), RatingW: 5000, Efficiency: 1,
			Battery: physics.BatteryParams{CapacityWh: 1e7, ChargeEfficiency: 1, DischargeEfficiency: 1, MaxChargeW: 5000, MaxDischargeW: 5000, InitialSOC: 0.5},
			Loop:    physics.LoopParams{Meter: i + 1, Gain: gain / float64(n), PeriodS: 1},
		})
	}
	return k
}

var _ = Describe("The sampled system", func() {
	// S. A. Levin, R. M. May, Theor. Popul. Biol. 9, 1976 (check-values ST-05): the largest gain with d samples of delay.
	for d, limit := range []float64{2, 1, 0.618033988750, 0.445041867913} {
		It(fmt.Sprintf("has the published limit at a delay of %d samples, for one loop, for two that share it, and from a desk", d), func() {
			for _, make := range []func(g float64) *Case{
				func(g float64) *Case { return bare(pause, 1, g, d) },
				func(g float64) *Case { return bare(pause, 2, g, d) },
				func(g float64) *Case { return bare(central, 2, g, d) },
			} {
				Expect(newLoop(make(0.999*limit), -1).radius()).To(BeNumerically("<", 1))
				Expect(newLoop(make(1.001*limit), -1).radius()).To(BeNumerically(">", 1))
			}
		})
	}

	It("agrees with the plant on what settles and what swings", func() {
		for _, of := range []design{central, trim, pause} {
			for _, factor := range []float64{0.9, 1.1} {
				k := bare(of, 2, 1, 1)
				for i := range k.Site.Inverters {
					k.Site.Inverters[i].DeadTimeS, k.Site.Inverters[i].LagS = 0.3, 0.8
				}
				k.scale(factor * firstUnstable(func(g float64) float64 {
					k := bare(of, 2, g, 1)
					for i := range k.Site.Inverters {
						k.Site.Inverters[i].DeadTimeS, k.Site.Inverters[i].LagS = 0.3, 0.8
					}
					return newLoop(k, -1).radius()
				}))
				total, _, err := k.given(hour, func(tick int64) float64 {
					if tick < minute {
						return 0
					}
					return 1000
				})
				Expect(err).NotTo(HaveOccurred())
				late, _ := spanOf(total[hour/2:])
				if factor < 1 {
					Expect(late).To(BeNumerically("<", 1), "%v", of)
				} else {
					Expect(late).To(BeNumerically(">", 500), "%v", of)
				}
			}
		}
	})
})

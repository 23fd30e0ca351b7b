package physics

import (
	"fmt"
	"math"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

// limit is the published stability limit of a sampled integrator with d samples of delay:
// S. A. Levin, R. M. May, Theor. Popul. Biol. 9, 1976 (check-values ST-05).
var limit = [...]float64{2.000000000000, 1.000000000000, 0.618033988750, 0.445041867913, 0.347296355334, 0.284629676547}

// swing runs a site after a load step and returns the largest excursion of grid flow in an
// early and in a late window [W].
func swing(s Site, samplesPerWindow int) (early, late float64) {
	p := mustNew(s)
	period := s.Meters[0].RefreshS
	run(p, 5*period)
	p.Apply(SetLoad{Load: 0, PowerW: 1100})
	run(p, 40*period) // the fast modes die first
	window := func() float64 {
		most := 0.0
		for n := int64(float64(samplesPerWindow) * period * 1000 / float64(s.StepMS)); n > 0; n-- {
			p.Step()
			most = max(most, math.Abs(p.GridW))
		}
		return most
	}
	early = window()
	run(p, 600*period)
	return early, window()
}

// delayed puts d samples of delay into a pair: the meter tells each sample d periods late.
func delayed(k1, k2 float64, d int) Site {
	s := pair(k1, k2, 0, 0, 1, 1000)
	for i := range s.Meters {
		s.Meters[i].LatencyS = float64(d)
	}
	for i := range s.Inverters {
		s.Inverters[i].RatingW = 1e9
		s.Inverters[i].Battery.MaxChargeW, s.Inverters[i].Battery.MaxDischargeW = 1e9, 1e9
		s.Inverters[i].Battery.CapacityWh = 1e12
	}
	return s
}

var _ = Describe("a sampled integrator with delay", func() {
	for d, g := range limit {
		It(fmt.Sprintf("settles just under and grows just over the published limit at d = %d", d), func() {
			alone := func(k float64) Site {
				s := delayed(k, 0.1, d)
				s.Inverters[1].Loop.Meter = -1
				return s
			}
			early, late := swing(alone(0.98*g), 2*(2*d+1))
			Expect(late).To(BeNumerically("<", early/2))
			early, late = swing(alone(1.02*g), 2*(2*d+1))
			Expect(late).To(BeNumerically(">", 2*early))
		})

		It(fmt.Sprintf("shares that limit with a second loop in phase with it at d = %d", d), func() {
			// check-values ST-13: the rule is g1 + g2 < limit(d), though each alone is stable.
			early, late := swing(delayed(0.98*0.6*g, 0.98*0.4*g, d), 2*(2*d+1))
			Expect(late).To(BeNumerically("<", early/2))
			early, late = swing(delayed(1.02*0.6*g, 1.02*0.4*g, d), 2*(2*d+1))
			Expect(late).To(BeNumerically(">", 2*early))
		})
	}

	It("does not count the order of latching and stepping as a sample of delay, whatever the step", func() {
		for _, step := range []int64{10, 50, 100, 500, 1000} {
			s := delayed(1.96, 0.1, 0)
			s.Inverters[1].Loop.Meter = -1
			s.StepMS = step
			early, late := swing(s, 2)
			Expect(late).To(BeNumerically("<", early/2), "step %d ms", step)
		}
	})

	It("takes a dead time in the inverter as it takes latency in the meter", func() {
		for _, f := range []float64{0.98, 1.02} {
			s := delayed(f*limit[2], 0.1, 1)
			s.Inverters[1].Loop.Meter = -1
			s.Inverters[0].DeadTimeS = 1
			early, late := swing(s, 10)
			if f < 1 {
				Expect(late).To(BeNumerically("<", early/2))
			} else {
				Expect(late).To(BeNumerically(">", 2*early))
			}
		}
	})

	It("oscillates at the limit with a period of 2(2d+1) samples", func() {
		// check-values ST-07.
		for d := 1; d <= 5; d++ {
			s := delayed(limit[d], 0.1, d)
			s.Inverters[1].Loop.Meter = -1
			p := mustNew(s)
			run(p, 5)
			p.Apply(SetLoad{Load: 0, PowerW: 1100})
			run(p, 400)
			crossings, was := []int64{}, p.GridW
			for len(crossings) < 9 {
				p.Step()
				if was < 0 && p.GridW >= 0 {
					crossings = append(crossings, p.Tick())
				}
				was = p.GridW
			}
			mean := float64(crossings[8]-crossings[0]) / 8 * 0.1
			Expect(mean).To(BeNumerically("~", float64(2*(2*d+1)), 0.13), "d = %d", d)
		}
	})

	// physics-notes of the prototype, regression only: refresh / latency / dead time / lag,
	// loop period 1 s, sampled in phase; half the limit for each of two together.
	DescribeTable("hunts from the prototype's realistic boundary on",
		func(refresh, latency, dead, lag, total float64) {
			for _, share := range []float64{0, 0.5} {
				for _, f := range []float64{0.94, 1.06} {
					s := delayed(f*total*(1-share), max(f*total*share, 0.01), 0)
					if share == 0 {
						s.Inverters[1].Loop.Meter = -1
					}
					for i := range s.Meters {
						s.Meters[i].RefreshS, s.Meters[i].LatencyS = refresh, latency
						s.Inverters[i].DeadTimeS, s.Inverters[i].LagS = dead, lag
					}
					early, late := swing(s, 20)
					if f < 1 {
						Expect(late).To(BeNumerically("<", early), "share %g factor %g", share, f)
					} else {
						Expect(late).To(BeNumerically(">", early), "share %g factor %g", share, f)
					}
				}
			}
		},
		Entry("1 / 0.5 / 0.5 / 1 s: 0.824", 1.0, 0.5, 0.5, 1.0, 0.824),
		Entry("3 / 1 / 1 / 1 s: 0.431", 3.0, 1.0, 1.0, 1.0, 0.431),
	)

	It("shares the limit among three loops in phase, at the inlet and behind one another's meters", func() {
		for d := 0; d <= 3; d++ {
			for _, inner := range []bool{false, true} {
				for _, f := range []float64{0.98, 1.02} {
					g := f * limit[d] / 3
					s := delayed(g, g, d)
					third := s.Inverters[0]
					third.Name, third.Loop.Meter = "east", 2
					s.Inverters = append(s.Inverters, third)
					s.Meters = append(s.Meters, MeterParams{Name: "three", RefreshS: 1, LatencyS: float64(d)})
					if inner {
						s.Feeders = append(s.Feeders, Feeder{Name: "inner", Parent: 0})
						s.Meters[1].Feeder, s.Meters[2].Feeder, s.Loads[0].Feeder = 1, 1, 1
						for i := range s.Inverters {
							s.Inverters[i].Feeder = 1
						}
					}
					early, late := swing(s, 2*(2*d+1))
					if f < 1 {
						Expect(late).To(BeNumerically("<", early/2), "d %d inner %v", d, inner)
					} else {
						Expect(late).To(BeNumerically(">", 2*early), "d %d inner %v", d, inner)
					}
				}
			}
		}
	})

	It("penalises two loops less when they sample apart", func() {
		// The prototype's finding: out of phase the penalty is smaller.
		sound := func(phase float64) bool {
			s := delayed(0.52*limit[2], 0.52*limit[2], 2) // 4 % over the limit in phase
			s.Inverters[1].Loop.PhaseS, s.Meters[1].PhaseS = phase, phase
			early, late := swing(s, 20)
			return late < early
		}
		Expect(sound(0)).To(BeFalse())
		Expect(sound(0.5)).To(BeTrue())
	})
})

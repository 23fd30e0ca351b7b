package physics

import (
	"fmt"
	"math"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

// drift returns how fast the two inverters move apart after the loops have settled
// [W/s each], and the mean grid flow meanwhile [W].
func drift(s Site) (wps, gridW float64) {
	p := mustNew(s)
	run(p, 60)
	from := (p.Inverters[1].PowerW - p.Inverters[0].PowerW) / 2
	grid := Sum{}
	const seconds = 200
	ticks := int64(seconds * 1000 / s.StepMS)
	for range ticks {
		p.Step()
		grid.add(p.GridW)
	}
	to := (p.Inverters[1].PowerW - p.Inverters[0].PowerW) / 2
	return (to - from) / seconds, grid.Value() / float64(ticks)
}

var _ = Describe("two native integrators whose meters disagree", func() {
	// The closed form k1 k2 (b1 - b2) / ((k1 + k2) Ts), and the grid flow
	// -(k1 b1 + k2 b2) / (k1 + k2): derived by hand from du = -k (G + b); the same as check-values
	// ST-14 and ST-15 in watts.
	DescribeTable("drift apart at the rate of the closed form while grid flow stands still",
		func(k1, k2, b1, b2, ts float64) {
			wps, grid := drift(pair(k1, k2, b1, b2, ts, 1500))
			want := k1 * k2 * (b1 - b2) / ((k1 + k2) * ts)
			Expect(wps).To(BeNumerically("~", want, 0.01*math.Abs(want)))
			Expect(grid).To(BeNumerically("~", -(k1*b1+k2*b2)/(k1+k2), 0.1))
		},
		func(k1, k2, b1, b2, ts float64) string {
			return fmt.Sprintf("gains %g and %g, offsets %g and %g W, period %g s", k1, k2, b1, b2, ts)
		},
		Entry(nil, 0.3, 0.3, 10.0, -10.0, 1.0), // 3 W/s, the prototype's case
		Entry(nil, 0.25, 0.2, 12.0, -8.0, 1.0),
		Entry(nil, 0.1, 0.4, 5.0, 0.0, 1.0),
		Entry(nil, 0.4, 0.1, 0.0, 25.0, 1.0),
		Entry(nil, 0.3, 0.3, 30.0, -20.0, 2.0),
		Entry(nil, 0.05, 0.05, 20.0, -20.0, 0.5),
		Entry(nil, 0.6, 0.2, -15.0, 15.0, 1.0),
		Entry(nil, 0.2, 0.3, 3.0, -2.0, 0.2),
	)

	It("keep drifting at that rate behind dead time, lag, latency and noise", func() {
		s := pair(0.25, 0.2, 12, -8, 1, 1500)
		for i := range s.Inverters {
			s.Inverters[i].DeadTimeS, s.Inverters[i].LagS = 0.3, 0.5
			s.Meters[i].LatencyS, s.Meters[i].NoiseW = 0.3, 3
		}
		wps, _ := drift(s)
		want := 0.25 * 0.2 * 20 / 0.45
		// 3 W of noise through two integrators walks about sqrt(200) x 0.6 W in 200 s: 0.04 W/s.
		Expect(wps).To(BeNumerically("~", want, 0.15))
	})

	It("end with one at its charging and one at its discharging limit, grid flow near zero", func() {
		s := pair(0.25, 0.2, 12, -8, 1, 800)
		p := mustNew(s)
		run(p, 5000/2.2+120)
		Expect(p.Inverters[0].PowerW).To(BeNumerically("<", -4999))
		Expect(p.Inverters[1].PowerW).To(BeNumerically(">", 4000))
		Expect(math.Abs(p.GridW)).To(BeNumerically("<", 30))
	})

	It("turn a gain error into the gain k (1 + g)", func() {
		s := pair(0.3, 0.3, 10, -10, 1, 1500)
		s.Meters[0].GainError = 0.2
		wps, _ := drift(s)
		k1 := 0.3 * 1.2
		want := k1 * 0.3 * (10/1.2 - -10) / (k1 + 0.3)
		Expect(wps).To(BeNumerically("~", want, 0.01*want))
	})

	DescribeTable("do not circulate where nothing disagrees or nothing integrates (negative controls)",
		func(change func(*Site)) {
			s := pair(0.3, 0.3, 10, -10, 1, 1500)
			change(&s)
			wps, _ := drift(s)
			Expect(math.Abs(wps)).To(BeNumerically("<", 1e-3))
		},
		Entry("the very same meter for both", func(s *Site) { s.Inverters[1].Loop.Meter = 0 }),
		Entry("gain errors alone, at target 0", func(s *Site) {
			s.Meters[0].OffsetW, s.Meters[1].OffsetW = 0, 0
			s.Meters[0].GainError, s.Meters[1].GainError = 0.05, -0.05
		}),
		Entry("deadbands that together reach the mismatch, under a constant load", func(s *Site) {
			s.Inverters[0].Loop.DeadbandW, s.Inverters[1].Loop.DeadbandW = 16, 16
		}),
		Entry("one inverter alone", func(s *Site) { s.Inverters[1].Loop.Meter = -1 }),
	)

	It("do not circulate without end where the loops are proportional only or leak (negative controls)", func() {
		apart := func(leak float64) float64 {
			s := pair(0.3, 0.3, 10, -10, 1, 500)
			s.Inverters[0].Loop.Leak, s.Inverters[1].Loop.Leak = leak, leak
			p := mustNew(s)
			run(p, 3000)
			return (p.Inverters[1].PowerW - p.Inverters[0].PowerW) / 2
		}
		// The leak balances the drift where leak x D = k (b1 - b2) / 2: 300 W at 1 % a sample, 3 W where all is forgotten.
		Expect(apart(0.01)).To(BeNumerically("~", 300, 1))
		Expect(apart(1)).To(BeNumerically("~", 3, 0.1))
	})

	It("ratchet through those same deadbands as soon as the load moves", func() {
		s := pair(0.3, 0.3, 10, -10, 1, 1500)
		s.Inverters[0].Loop.DeadbandW, s.Inverters[1].Loop.DeadbandW = 16, 16
		for i := range s.Meters {
			s.Meters[i].NoiseW = 20
		}
		wps, _ := drift(s)
		Expect(wps).To(BeNumerically(">", 0.3))
	})

	It("circulate the hidden load of an inner wiring at k Lm / (2 Ts)", func() {
		// Both inverters stand behind the second meter, and only the first sees the load Lm:
		// 0.3 x 400 / 2 = 60 W/s.
		s := pair(0.3, 0.3, 0, 0, 1, 400)
		s.Feeders = append(s.Feeders, Feeder{Name: "inner", Parent: 0})
		s.Meters[1].Feeder = 1
		s.Inverters[0].Feeder, s.Inverters[1].Feeder = 1, 1
		p := mustNew(s)
		run(p, 30)
		from := p.Inverters[1].PowerW - p.Inverters[0].PowerW
		run(p, 20)
		to := p.Inverters[1].PowerW - p.Inverters[0].PowerW
		Expect((to - from) / 2 / 20).To(BeNumerically("~", 60, 0.6))
	})

	// Three loops and more obey the same sum: G = -sum(k b)/sum(k), and each drifts at -k_i (G + b_i)/Ts. By hand.
	DescribeTable("drift by the same law when they are three, in both wirings",
		func(k, b [3]float64, hiddenW float64) {
			s := pair(k[0], k[1], b[0], b[1], 1, 1500)
			third := s.Inverters[0]
			third.Name, third.Loop.Meter, third.Loop.Gain = "east", 2, k[2]
			s.Inverters = append(s.Inverters, third)
			s.Meters = append(s.Meters, MeterParams{Name: "three", RefreshS: 1, OffsetW: b[2]})
			if hiddenW > 0 {
				// All three stand behind the inner meters of the second and third, which do not see a load at the supply.
				s.Feeders = append(s.Feeders, Feeder{Name: "inner", Parent: 0})
				s.Loads = append(s.Loads, LoadParams{Name: "hidden", PowerW: hiddenW, On: true})
				s.Loads[0].Feeder, s.Meters[1].Feeder, s.Meters[2].Feeder = 1, 1, 1
				for i := range s.Inverters {
					s.Inverters[i].Feeder = 1
				}
			}
			p := mustNew(s)
			run(p, 30)
			var was [3]float64
			for i := range was {
				was[i] = p.Inverters[i].PowerW
			}
			const seconds = 15
			run(p, seconds)
			sees := [3]float64{b[0], b[1] - hiddenW, b[2] - hiddenW} // what each meter reads more than the inlet's flow
			top, bottom := 0.0, 0.0
			for i := range k {
				top += k[i] * sees[i]
				bottom += k[i]
			}
			grid := -top / bottom
			Expect(p.GridW).To(BeNumerically("~", grid, math.Max(0.01*math.Abs(grid), 0.1)))
			for i := range k {
				want := -k[i] * (grid + sees[i])
				got := (p.Inverters[i].PowerW - was[i]) / seconds
				Expect(got).To(BeNumerically("~", want, math.Max(0.01*math.Abs(want), 0.01)), "inverter %d", i)
			}
		},
		Entry("at the inlet", [3]float64{0.2, 0.2, 0.2}, [3]float64{10, -10, 0}, 0.0),
		Entry("at the inlet, unequal", [3]float64{0.1, 0.3, 0.25}, [3]float64{12, -8, 3}, 0.0),
		Entry("inner wiring, 200 W hidden", [3]float64{0.2, 0.15, 0.1}, [3]float64{0, 0, 0}, 200.0),
		Entry("inner wiring, 300 W hidden, offsets too", [3]float64{0.15, 0.2, 0.1}, [3]float64{5, -5, 2}, 300.0),
	)

	It("does not circulate where one inverter is alone behind its own meter (negative control of the inner wiring)", func() {
		s := pair(0.3, 0.3, 10, -10, 1, 400)
		s.Feeders = append(s.Feeders, Feeder{Name: "inner", Parent: 0})
		s.Meters[1].Feeder, s.Inverters[1].Feeder = 1, 1
		s.Loads = append(s.Loads, LoadParams{Name: "behind", Feeder: 1, PowerW: 700, On: true})
		wps, _ := drift(s)
		Expect(math.Abs(wps)).To(BeNumerically("<", 1e-3))
	})
})

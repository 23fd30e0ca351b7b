package criteria_test

import (
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/suites/criteria"
)

var _ = Describe("A monitor", func() {
	It("says at once when it is violated, and since when", func() {
		m := must(criteria.NewImport(criteria.FlowLimit{BelowW: 1000, Except: 2 * time.Second}, step))
		c := calmSite()
		c.north = func(t float64) float64 {
			if t > 9.95 {
				return 3000
			}
			return 0
		}
		seen := int64(0)
		c.edit = func(s *criteria.Sample) {
			if seen == 0 && m.Breach() != 0 {
				seen = s.Tick
			}
		}
		c.run(20*time.Second, m)
		Expect(m.Breach()).To(Equal(int64(100)), "the start of the window that lies above the limit")
		Expect(seen).To(Equal(int64(121)), "the sample after the twenty-first of the window")
		Expect(m.Result().FirstBreachS).To(Equal(10.0))
	})

	It("agrees with its own result, whichever it is", func() {
		busy := func(m criteria.Monitor) criteria.Result {
			c := calmSite()
			c.load = func(t float64) float64 { return 3000 }
			c.north = func(t float64) float64 { return 3000 - 6000*float64(int(t/30)%2) }
			c.south = func(t float64) float64 { return -2000 }
			c.edit = func(s *criteria.Sample) {
				s.Disturbed = at(s, 20)
				s.FuseA = 10
				s.Phases = []criteria.PhaseSample{{CurrentA: 60, MostA: 60}}
				s.Inverters[1].SOC = 0.05
				s.Inverters[1].Reserve = 0.1
				for i := range s.Inverters {
					s.Inverters[i].CapacityWh = 5000
				}
				s.Controller = criteria.ControllerPresent
				if t := float64(s.Tick) * s.StepS; t > 100 && t < 200 {
					s.Controller = criteria.ControllerDead
				}
				s.Writes = []criteria.WriteSample{{Register: 7}}
				s.Wire = []criteria.WireSample{{Reads: 9, Exceptions: 1, Illegal: 1, Forbidden: 1}}
				s.Cheap = s.Tick < 3000
			}
			c.run(10*time.Minute, m)
			return m.Result()
		}
		failed := 0
		for i, m := range all(step) {
			r := busy(m)
			if r.Status != criteria.Failed {
				Expect(m.Breach()).To(BeZero(), r.Name)
				continue
			}
			failed++
			Expect(m.Breach()).NotTo(BeZero(), r.Name)
			// A settling time and a recovery count from the start of their step.
			Expect(r.FirstBreachS).To(BeNumerically("~", float64(m.Breach())*step.Seconds(), 0.1+1e-9), "%d: %s", i, r.Name)
		}
		Expect(failed).To(BeNumerically(">=", 10), "a run that breaks nearly everything")
	})
})

var _ = Describe("Further clauses", func() {
	const ms10 = 10 * time.Millisecond

	It("bound the overshoot of a second-order response, whose closed form is known", func() {
		// Source: check-values SR-03, 25.382672 % at a damping of 0.4.
		response := func(t float64) float64 { return secondOrder(0.4, 1, t) }
		for limit, want := range map[float64]criteria.Status{254: criteria.Passed, 253: criteria.Failed} {
			m := must(criteria.NewSettle(criteria.Settle{BandW: 20, Within: time.Minute, OvershootW: bound(limit)}, ms10))
			stepAnswer(ms10, response).run(130*time.Second, m)
			r := m.Result()
			expectSound(r)
			Expect(r.Status).To(Equal(want))
			if want == criteria.Failed {
				Expect(r.Decides).To(Equal("overshoot"))
				Expect(r.Observed).To(BeNumerically("~", 253.82672, 0.02))
				Expect(r.Unit).To(Equal("W"))
				Expect(r.FirstBreachS).To(BeNumerically("~", 5, 1e-9))
			}
			// The band is entered first when 980 W are reached: y(t) = 0.98 by bisection of the closed form.
			low, high := 0.0, 3.0
			for range 60 {
				if mid := (low + high) / 2; response(mid) < 0.98 {
					low = mid
				} else {
					high = mid
				}
			}
			Expect(figure(r, "rise")).To(BeNumerically("~", low, 0.010001))
		}
	})

	It("bound the length of an episode of circulating power, and its energy", func() {
		c := calmSite()
		c.north = func(t float64) float64 {
			if t > 60 && t < 180 {
				return -1000
			}
			return 0
		}
		c.south = func(t float64) float64 { return -c.north(t) }
		r := func(p criteria.Circulating) criteria.Result {
			p.BelowW, p.Except = 500, 10*time.Minute
			m := must(criteria.NewCirculating(p, step))
			c.run(15*time.Minute, m)
			return m.Result()
		}
		minute, twoMinutes := time.Minute, 2*time.Minute
		Expect(r(criteria.Circulating{Episode: &twoMinutes}).Status).To(Equal(criteria.Passed))
		long := r(criteria.Circulating{Episode: &minute})
		expectSound(long)
		Expect(long.Decides).To(Equal("episode"))
		Expect(long.Margin).To(BeNumerically("~", -59.9, 1e-9))
		Expect(long.FirstBreachS).To(BeNumerically("~", 120.1, 1e-9))
		// 1 kW for 2 min is 33.3 Wh.
		Expect(r(criteria.Circulating{EnergyWh: bound(33.4)}).Status).To(Equal(criteria.Passed))
		spent := r(criteria.Circulating{EnergyWh: bound(30)})
		Expect(spent.Decides).To(Equal("energy"))
		Expect(spent.Margin).To(BeNumerically("~", 30-1199.0/36, 1e-6))
	})

	It("call a spread avoidable only where the load or the surplus could have narrowed it", func() {
		spread := func(edit func(s *criteria.Sample)) criteria.Result {
			m := must(criteria.NewSOCSpread(criteria.SOCSpread{Below: 0.05}, step))
			c := calmSite()
			c.edit = edit
			c.run(time.Hour, m)
			r := m.Result()
			Expect(r.Status).To(Equal(criteria.Failed))
			return r
		}
		jump := func(s *criteria.Sample) {
			for i := range s.Inverters {
				s.Inverters[i].CapacityWh = 10_000
			}
			if s.Tick > 6000 {
				s.Inverters[1].SOC = 0.36
			}
		}
		Expect(spread(jump).Avoidable).To(BeFalse(), "a recalibration, and no load that the fuller could serve")
		Expect(spread(func(s *criteria.Sample) {
			jump(s)
			// It goes on to widen, though 2 kW of load would bring them together in 42 min.
			s.NetLoadW, s.GridW = 2000, 2000
			s.Inverters[1].SOC -= 1e-7 * float64(s.Tick)
		}).Avoidable).To(BeTrue())
	})
})

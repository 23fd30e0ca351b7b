package criteria_test

import (
	"math"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/suites/criteria"
)

var _ = Describe("What a battery has to let go", func() {
	// emptied is a site whose south is empty at 200 s and drops 1000 W, and whose north then rings with 900 W that
	// die away within a minute.
	emptied := func(told bool) site {
		c := calmSite()
		c.load = constant(2000)
		c.north = func(t float64) float64 {
			if t < 200.05 {
				return -1000
			}
			return -2000 - 900*math.Exp(-(t-200)/25)*math.Cos(2*math.Pi*(t-200)/10)
		}
		c.south = func(t float64) float64 {
			if t < 200.05 {
				return -1000
			}
			return 0
		}
		c.edit = func(s *criteria.Sample) {
			if told && s.Tick > 2000 {
				s.Inverters[1].DischargeRoomW = 0
			}
		}
		return c
	}

	It("is no hunting of those that take it over, until they should be calm again", func() {
		for told, want := range map[bool]criteria.Status{true: criteria.Passed, false: criteria.Failed} {
			m := must(criteria.NewHunting(criteria.Hunting{BelowW: 150, GoneWithin: 2 * time.Minute}, step))
			emptied(told).run(15*time.Minute, m)
			Expect(m.Result().Status).To(Equal(want), "south has room: %v", !told)
		}
	})

	It("excuses no swing that runs against an empty battery again and again", func() {
		m := must(criteria.NewHunting(criteria.Hunting{BelowW: 150, GoneWithin: 2 * time.Minute}, step))
		c := calmSite()
		c.load = constant(500)
		// South swings between charging and discharging with a period of 40 s, and is empty half way down.
		c.south = func(t float64) float64 {
			w := 3000 * math.Sin(2*math.Pi*t/40)
			if w < 0 && math.Mod(t, 40) > 30 {
				return 0
			}
			return w
		}
		c.edit = func(s *criteria.Sample) {
			if math.Mod(float64(s.Tick)*s.StepS, 40) > 30 {
				s.Inverters[1].DischargeRoomW = 0
			}
		}
		c.run(15*time.Minute, m)
		Expect(m.Result().Status).To(Equal(criteria.Failed))
	})
})

var _ = Describe("A small load that never rests", func() {
	It("is no hunting, though a sound controller makes it three times as loud", func() {
		for times, want := range map[float64]criteria.Status{2.9: criteria.Passed, 30: criteria.Failed} {
			m := must(criteria.NewHunting(criteria.Hunting{BelowW: 150, GoneWithin: 2 * time.Minute}, step))
			c := calmSite()
			small := func(t float64) float64 { return 35 * math.Sin(2*math.Pi*t/8) }
			c.load = func(t float64) float64 { return 1000 + small(t) }
			c.north = func(t float64) float64 { return -1000 - (1+times)*small(t-2) }
			c.run(10*time.Minute, m)
			Expect(m.Result().Status).To(Equal(want), "%v times", times)
		}
	})
})

var _ = Describe("An inverter with a lag", func() {
	It("is within its room before it ever arrives there", func() {
		m := must(criteria.NewImport(criteria.FlowLimit{BelowW: 1000, Except: 20 * time.Second}, step))
		c := calmSite()
		c.load, c.roomW = constant(9000), 3600
		c.north = func(t float64) float64 { return -3600 * (1 - math.Exp(-t/1.5)) }
		c.south = c.north
		c.run(45*time.Second, m) // e^(-30) of 3.6 kW is far above the rounding of a sum
		Expect(m.Result().Status).To(Equal(criteria.Passed))

		m = must(criteria.NewImport(criteria.FlowLimit{BelowW: 1000, Except: 20 * time.Second}, step))
		c.south = constant(-3598.5)
		c.run(45*time.Second, m)
		Expect(m.Result().Status).To(Equal(criteria.Failed))
		Expect(m.Result().Margin).To(BeNumerically("~", -1.5, 0.01))
	})
})

var _ = Describe("A battery that is all but empty", func() {
	It("is asked for no more than it could keep up while an excess may last", func() {
		for wh, want := range map[float64]criteria.Status{5: criteria.Passed, 100: criteria.Failed} {
			m := must(criteria.NewImport(criteria.FlowLimit{BelowW: 4000, Except: 30 * time.Second}, step))
			c := calmSite()
			c.load, c.north = constant(7500), constant(-3500)
			c.edit = func(s *criteria.Sample) { // south has its full room, for the moment
				s.Inverters[1].SOC, s.Inverters[1].Reserve, s.Inverters[1].CapacityWh = 0.1+wh/10000, 0.1, 10000
				s.Inverters[0].ChargeRoomW, s.Inverters[0].DischargeRoomW = 3500, 3500
				if s.Tick > 100 {
					s.NetLoadW, s.GridW = 7900, 4400
				}
			}
			c.run(2*time.Minute, m)
			Expect(m.Result().Status).To(Equal(want), "%v Wh", wh)
		}
	})
})

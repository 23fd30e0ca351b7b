package physics

import (
	"math"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"
)

// wild draws a bakery with other sizes, other wiring and other errors.
func wild(t *rapid.T) Site {
	s := bakery()
	s.Seed = rapid.Uint64().Draw(t, "seed")
	s.Phases = rapid.SampledFrom([]int{1, 3}).Draw(t, "phases")
	s.Sky.StartUnixS += int64(rapid.IntRange(0, 23).Draw(t, "hour")) * 3600
	s.Feeders = []Feeder{{Name: "supply", Parent: -1}}
	for i := range rapid.IntRange(1, 5).Draw(t, "feeders") {
		s.Feeders = append(s.Feeders, Feeder{Parent: rapid.IntRange(0, i).Draw(t, "parent")})
	}
	feeder := func() int { return rapid.IntRange(0, len(s.Feeders)-1).Draw(t, "feeder") }
	phases := func() Phases {
		if s.Phases == 1 {
			return AllPhases
		}
		return Phases(rapid.IntRange(0, 3).Draw(t, "conductors"))
	}
	for i := range s.Meters {
		s.Meters[i].Feeder, s.Meters[i].Phases = feeder(), phases()
		s.Meters[i].LatencyS = 0.1 * float64(rapid.IntRange(0, 40).Draw(t, "latency"))
		s.Meters[i].Reversed = rapid.Bool().Draw(t, "reversed")
	}
	for i := range s.Inverters {
		v := &s.Inverters[i]
		v.Feeder, v.Phases = feeder(), phases()
		v.Battery.InitialSOC = rapid.Float64Range(0, 1).Draw(t, "soc")
		v.Battery.ReserveSOC = rapid.Float64Range(0, 0.3).Draw(t, "reserve")
		v.Battery.CapacityWh = rapid.Float64Range(50, 10000).Draw(t, "capacity")
		v.RampUpWps = rapid.SampledFrom([]float64{0, 300, 2000}).Draw(t, "up")
		v.RampDownWps = rapid.SampledFrom([]float64{0, 300, 2000}).Draw(t, "down")
		v.LagS = rapid.SampledFrom([]float64{0, 0.2, 1.5}).Draw(t, "lag")
		v.Loop.Gain = rapid.Float64Range(0.05, 0.5).Draw(t, "gain")
	}
	for i := range s.Loads {
		s.Loads[i].Feeder, s.Loads[i].Phases = feeder(), phases()
	}
	s.Arrays[0].Feeder, s.Arrays[0].Phases = feeder(), phases()
	s.Chargers[0].Feeder, s.Chargers[0].Phases = feeder(), phases()
	return s
}

// befall draws something that happens.
func befall(t *rapid.T, p *Plant) {
	inverter := rapid.IntRange(0, len(p.Inverters)-1).Draw(t, "inverter")
	rating := p.site.Inverters[inverter].RatingW
	switch rapid.IntRange(0, 11).Draw(t, "what") {
	case 0:
		p.Apply(SwitchLoad{Load: rapid.IntRange(0, len(p.Loads)-1).Draw(t, "load"), On: rapid.Bool().Draw(t, "on")})
	case 1:
		p.Apply(SetLoad{Load: 0, PowerW: rapid.Float64Range(0, 9000).Draw(t, "power")})
	case 2:
		p.Apply(PlugIn{CurrentA: 16, EnergyWh: rapid.Float64Range(0, 500).Draw(t, "energy")})
	case 3:
		p.Apply(Unplug{})
	case 4:
		p.Apply(PassCloud{Depth: 0.8, EdgeS: 4, LastsS: 30, Enhancement: 0.2})
	case 5:
		p.Apply(BrokenClouds{On: true, MeanGapS: 20, MeanLastS: 15, MinDepth: 0.3, MaxDepth: 0.9, EdgeS: 3})
	case 6:
		p.Apply(SetMeterFault{Meter: inverter, Fault: MeterFault(rapid.IntRange(0, 2).Draw(t, "fault"))})
	case 7:
		p.Apply(Trip{Inverter: inverter, LastsS: 5})
	case 8:
		p.SetMode(inverter, Mode(rapid.IntRange(0, 5).Draw(t, "mode")))
	case 9:
		p.SetSetpoint(inverter, rapid.Float64Range(-2*rating, 2*rating).Draw(t, "setpoint"))
	case 10:
		p.SetChargeLimit(inverter, rapid.Float64Range(-rating, 2*rating).Draw(t, "limit"))
	case 11:
		p.SetDischargeLimit(inverter, rapid.Float64Range(-rating, 2*rating).Draw(t, "limit"))
	}
}

var _ = Describe("the laws of the plant, over random sites and events", func() {
	It("balances every node, conserves energy, and keeps batteries and inverters within their bounds", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			s := wild(t)
			p, err := New(s)
			if err != nil {
				t.Fatal(err)
			}
			was := make([]float64, len(p.Inverters))
			for range rapid.IntRange(1, 12).Draw(t, "events") {
				befall(t, p)
				for range rapid.IntRange(1, 600).Draw(t, "ticks") {
					for i := range p.Inverters {
						was[i] = p.Inverters[i].out.ramp
					}
					p.Step()
					for i := range p.Inverters {
						v := &p.Inverters[i]
						if soc := v.Battery.SOC; !(soc >= 0 && soc <= 1) {
							t.Fatalf("state of charge %v", soc)
						}
						if math.Abs(v.PowerW) > v.par.RatingW*(1+1e-12) {
							t.Fatalf("%v W beyond the rating of %v W", v.PowerW, v.par.RatingW)
						}
						// The ramp is the inverter's own; a contactor and a battery's end are faster.
						free := !v.Tripped && v.Mode != Standby && v.out.ramp != 0 &&
							v.PowerW > -v.Battery.dischMax*0.9 && v.PowerW < v.Battery.chargeMax*0.9
						if rise := v.out.ramp - was[i]; free && v.par.RampUpWps > 0 && rise > v.par.RampUpWps*0.1+1e-6 && was[i] != 0 {
							t.Fatalf("rose by %v W in one tick, more than %v W/s allow", rise, v.par.RampUpWps)
						}
					}
				}
			}
			a := p.Audit()
			if !a.Ok() {
				t.Fatalf("the books do not balance: %+v", a)
			}
		})
	})

	It("gives the same bits for the same seed, and other noise for another", func() {
		a, b, c := mustNew(bakery()), mustNew(bakery()), bakery()
		c.Seed++
		other := mustNew(c)
		differ := false
		for range 3000 {
			a.Step()
			b.Step()
			other.Step()
			Expect(math.Float64bits(a.GridW)).To(Equal(math.Float64bits(b.GridW)))
			differ = differ || a.GridW != other.GridW
		}
		Expect(differ).To(BeTrue())
	})

	It("does not shift one component's noise when another is added", func() {
		a, s := mustNew(bakery()), bakery()
		s.Meters = append(s.Meters, MeterParams{Name: "spare", RefreshS: 1, NoiseW: 10})
		b := mustNew(s)
		for range 3000 {
			a.Step()
			b.Step()
			Expect(a.GridW).To(Equal(b.GridW))
		}
	})

	It("agrees between 100 ms and 10 ms steps through ramps and lags", func() {
		at := func(stepMS int64) *Plant {
			s := pair(0.25, 0.2, 12, -8, 1, 700)
			s.StepMS = stepMS
			for i := range s.Inverters {
				v := &s.Inverters[i]
				v.DeadTimeS, v.LagS, v.RampUpWps, v.RampDownWps = 0.3, 0.5, 300, 450
			}
			p := mustNew(s)
			run(p, 20)
			p.Apply(SetLoad{Load: 0, PowerW: 4000})
			return p
		}
		coarse, fine := at(100), at(10)
		for range 600 {
			coarse.Step()
			for range 10 {
				fine.Step()
			}
			Expect(coarse.Inverters[0].PowerW).To(BeNumerically("~", fine.Inverters[0].PowerW, 1e-4))
			Expect(coarse.GridW).To(BeNumerically("~", fine.GridW, 1e-4))
		}
		// Import and export apart differ in the ticks in which the flow changes sign; their difference does not.
		net := func(p *Plant) float64 { return p.Imported.Wh() - p.Exported.Wh() }
		Expect(net(coarse)).To(BeNumerically("~", net(fine), 1e-6))
	})

	It("refuses steps that do not divide periods and dead times", func() {
		s := bakery()
		s.StepMS = 30
		_, err := New(s)
		Expect(err).To(MatchError(ContainSubstring("one: refresh: 1 s is not a multiple of the step of 30 ms")))
	})

	It("allocates nothing in a step", func() {
		p := mustNew(bakery())
		p.Apply(BrokenClouds{On: true, MeanGapS: 5, MeanLastS: 3, MinDepth: 0.3, MaxDepth: 0.9, EdgeS: 1})
		p.Apply(PlugIn{CurrentA: 16})
		for range 100 {
			p.Step()
		}
		Expect(allocations(func() {
			for range 10000 {
				p.Step()
			}
		})).To(BeZero())
	})
})

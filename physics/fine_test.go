package physics

import (
	"math"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

// single is a site with one inverter that is told what to do.
func single(change func(*InverterParams)) Site {
	s := pair(0.3, 0.3, 0, 0, 1, 500)
	s.Inverters = s.Inverters[:1]
	s.Inverters[0].Loop.Meter = -1
	change(&s.Inverters[0])
	return s
}

// setpoint makes a plant whose inverter follows a setpoint.
func setpoint(s Site, w float64) *Plant {
	GinkgoHelper()
	p := mustNew(s)
	p.SetMode(0, FollowSetpoint)
	p.SetSetpoint(0, w)
	return p
}

func balanced(p *Plant) {
	GinkgoHelper()
	a := p.Audit()
	Expect(a.Ok()).To(BeTrue(), "%+v", a)
}

var _ = Describe("an inverter of the finer model", func() {
	It("converts by the part-load curve in both directions", func() {
		for _, w := range []float64{-4000, -300, 300, 4000} {
			p := setpoint(single(func(v *InverterParams) { v.EfficiencyForm = PartLoadEfficiency }), w)
			run(p, 60)
			v := &p.Inverters[0]
			in, out := v.PowerW, v.BatteryW // charging
			if w < 0 {
				in, out = -v.BatteryW, -v.PowerW
			}
			// z = in/(rating/efficiency); the curve of PVWatts (check-values PV-37).
			Expect(out / in).To(BeNumerically("~", PVWattsEfficiency(in/(5000/0.96), 0.96), 1e-9))
			balanced(p)
		}
	})

	It("draws its no-load loss from the battery while it holds 0 W", func() {
		p := setpoint(single(func(v *InverterParams) { v.EfficiencyForm = PartLoadEfficiency }), 0)
		run(p, 3600)
		Expect(p.Inverters[0].PowerW).To(BeZero())
		Expect(p.Inverters[0].BatteryW).To(BeNumerically("~", -PartLoadInput(0, 5000/0.96, 0.96), 1e-9))
		Expect(p.Inverters[0].Battery.SOC).To(BeNumerically("<", 0.5))
		balanced(p)
	})

	It("converts by the Sandia model, whose inverse it knows", func() {
		// check-values PV-39: the fixture of pvlib-python's tests, a 250 W unit.
		unit := SandiaInverter{RatedACW: 250, RatedDCW: 259.5220505, RatedV: 40.24260317, StartW: 1.771614224,
			C0: -2.48e-5, C1: -9.01e-5, C2: 6.69e-4, C3: -0.0189, NightW: 0.02}
		for _, dc := range []float64{20, 100, 137.5, 250} {
			Expect(unit.DCPower(40.24260317, unit.ACPower(40.24260317, dc))).To(BeNumerically("~", dc, 1e-9))
		}
		s := single(func(v *InverterParams) {
			v.EfficiencyForm, v.Sandia, v.RatingW = SandiaEfficiency, unit, 250
		})
		p := setpoint(s, -100)
		run(p, 60)
		Expect(unit.ACPower(40.24260317, -p.Inverters[0].BatteryW)).To(BeNumerically("~", 100, 1e-9))
		balanced(p)
	})

	It("draws its own consumption from the site, and its standby consumption while the contactor is open", func() {
		s := single(func(v *InverterParams) { v.SelfConsumptionW, v.StandbyW = 35, 6 })
		p := setpoint(s, 1000)
		run(p, 10)
		Expect(p.Inverters[0].PowerW).To(BeNumerically("~", 1035, 1e-9))
		p.SetConnected(0, false)
		run(p, 10)
		Expect(p.Inverters[0].PowerW).To(Equal(6.0))
		balanced(p)
	})

	It("rounds its command, and carries out no command under its smallest", func() {
		s := single(func(v *InverterParams) { v.ResolutionW, v.MinimumW = 50, 120 })
		for want, got := range map[float64]float64{1013: 1000, 1030: 1050, 110: 0, -110: 0, -140: -150} {
			p := setpoint(s, want)
			run(p, 5)
			Expect(p.Inverters[0].PowerW).To(Equal(got))
		}
	})

	It("rests between charging and discharging for its changeover time", func() {
		s := single(func(v *InverterParams) { v.ChangeoverS = 3 })
		p := setpoint(s, 1000)
		run(p, 10)
		p.SetSetpoint(0, -1000)
		run(p, 3)
		Expect(p.Inverters[0].PowerW).To(BeZero())
		run(p, 0.1)
		Expect(p.Inverters[0].PowerW).To(Equal(-1000.0))
		p.SetSetpoint(0, -500)
		run(p, 0.1)
		Expect(p.Inverters[0].PowerW).To(Equal(-500.0), "the same direction needs no rest")
	})

	It("follows its own timed windows unless it is commanded", func() {
		s := single(func(v *InverterParams) { v.Timed = []TimedMode{{60_000, 120_000, 2000}, {180_000, 200_000, -1000}} })
		p := mustNew(s)
		at := func(seconds float64) float64 { run(p, seconds-float64(p.TimeMS())/1000); return p.Inverters[0].PowerW }
		Expect(at(59)).To(BeZero())
		Expect(at(61)).To(Equal(2000.0))
		p.SetChargeLimit(0, 500)
		Expect(at(90)).To(Equal(500.0))
		p.SetChargeLimit(0, 5000)
		Expect(at(121)).To(BeZero())
		Expect(at(190)).To(Equal(-1000.0))
		p.SetMode(0, Hold)
		Expect(at(195)).To(BeZero())
	})

	It("forgets its commands when they are not renewed, and returns after a trip when its delay is over", func() {
		s := single(func(v *InverterParams) { v.CommandLifeS, v.ReconnectS = 10, 20 })
		p := setpoint(s, 1000)
		p.Heard(0)
		run(p, 9.9)
		Expect(p.Inverters[0].PowerW).To(Equal(1000.0))
		run(p, 0.2)
		Expect(p.Inverters[0].Mode).To(Equal(SelfConsumption))
		Expect(p.Inverters[0].Forgotten).To(Equal(int64(1)))
		p.SetMode(0, FollowSetpoint)
		p.SetSetpoint(0, 700)
		p.Apply(Trip{Inverter: 0, LastsS: 5})
		p.SetCommandLife(0, 0)
		run(p, 24.9)
		Expect(p.Inverters[0].PowerW).To(BeZero())
		run(p, 0.2)
		Expect(p.Inverters[0].PowerW).To(Equal(700.0))
	})
})

var _ = Describe("a hybrid inverter", func() {
	hybrid := func() Site {
		s := bakery()
		s.Inverters = s.Inverters[:1]
		s.Inverters[0].Loop.Meter = -1
		s.Inverters[0].Battery.TaperAboveSOC = 1
		s.Arrays[0].OnDC = true
		s.Arrays[0].PeakW, s.Arrays[0].RatingW = 8000, 8000
		s.Sky.StartUnixS += 11 * 3600 // noon
		s.Loads = nil
		return s
	}

	It("charges its battery from PV on the DC side, past the AC rating and without AC losses", func() {
		s := hybrid()
		s.Inverters[0].Battery.MaxChargeW = 9000
		p := setpoint(s, 0)
		run(p, 30)
		v := &p.Inverters[0]
		Expect(v.PowerW).To(BeZero())
		Expect(v.PVW).To(BeNumerically(">", 3000))
		Expect(v.BatteryW).To(BeNumerically("~", v.PVW, 10))
		Expect(p.Arrays[0].PowerW).To(BeZero(), "nothing of it is on the AC side")
		balanced(p)
	})

	It("shares the AC rating between PV and battery, and throttles what neither takes", func() {
		s := hybrid()
		s.Inverters[0].Battery.InitialSOC = 1
		p := mustNew(s)
		run(p, 30)
		v := &p.Inverters[0]
		there := p.Arrays[0].DCW
		Expect(v.PowerW).To(BeNumerically("~", -min(5000, there*0.96), 1), "a full battery lets the PV through")
		p.SetMode(0, Hold)
		run(p, 30)
		Expect(p.Inverters[0].PowerW).To(BeNumerically("~", -min(5000, p.Arrays[0].DCW*0.96), 1), "surplus must leave")
		p.SetOutputLimit(0, 0.2)
		run(p, 30)
		Expect(p.Inverters[0].PowerW).To(BeNumerically("~", -1000, 1e-6))
		Expect(p.Inverters[0].PVW).To(BeNumerically("~", 1000/0.96, 1e-6))
		balanced(p)
	})
})

var _ = Describe("the forms of a native loop", func() {
	It("act as an integrator of gain k (1 - e^(-Ts/tau)) when they correct the actual output behind a lag", func() {
		// The prototype's closed form; by hand.
		s := pair(0.4, 0.4, 10, -10, 1, 1500)
		for i := range s.Inverters {
			s.Inverters[i].LagS, s.Inverters[i].Loop.Form = 2, FromActual
		}
		wps, _ := drift(s)
		k := 0.4 * (1 - math.Exp(-0.5))
		Expect(wps).To(BeNumerically("~", k*20/2, 0.01*k*10))
	})

	It("find the rest of the site in one sample when they feed it forward with gain 1", func() {
		s := single(func(v *InverterParams) {
			v.Loop = LoopParams{Meter: 0, Gain: 1, PeriodS: 1, Form: FeedForward}
		})
		p := mustNew(s)
		run(p, 5)
		p.Apply(SetLoad{Load: 0, PowerW: 2300})
		run(p, 2)
		Expect(p.Inverters[0].PowerW).To(BeNumerically("~", -2300, 1e-9))
	})

	It("leave the remainder of the deadband standing, or come to rest at half of it", func() {
		rest := func(kind DeadbandKind) float64 {
			s := single(func(v *InverterParams) {
				v.Loop = LoopParams{Meter: 0, Gain: 0.3, PeriodS: 1, DeadbandW: 100, Deadband: kind}
			})
			p := mustNew(s)
			run(p, 120)
			return p.GridW
		}
		Expect(rest(Remainder)).To(BeNumerically("~", 100, 1))
		Expect(rest(Hysteresis)).To(And(BeNumerically("<=", 50), BeNumerically(">", 20)))
		Expect(rest(WholeError)).To(And(BeNumerically("<=", 100), BeNumerically(">", 50)))
	})

	It("come back at once with anti-windup, and late without", func() {
		back := func(windup bool) float64 {
			s := single(func(v *InverterParams) {
				v.RatingW = 1000
				v.Loop = LoopParams{Meter: 0, Gain: 0.3, PeriodS: 1, Windup: windup}
			})
			p := mustNew(s)
			p.Apply(SetLoad{Load: 0, PowerW: 4000})
			run(p, 60)
			p.Apply(SetLoad{Load: 0, PowerW: 200})
			run(p, 20)
			return math.Abs(p.GridW)
		}
		Expect(back(false)).To(BeNumerically("<", 5))
		Expect(back(true)).To(BeNumerically(">", 500))
	})
})

var _ = Describe("a battery of the finer model", func() {
	pack := func() *CellParams {
		return &CellParams{OCV: Curve{{0, 3.0}, {0.1, 3.45}, {0.9, 3.6}, {1, 4.1}}, CapacityAh: 100, R0Ohm: 0.001, R1Ohm: 0.0008, C1F: 40000,
			MaxV: 4.15, MinV: 2.8, MaxChargeA: 100, MaxDischA: 120, CutoffA: 2, Series: 28}
	}

	It("charges at constant current, then at constant voltage, and stops, within the books", func() {
		p := setpoint(single(func(v *InverterParams) {
			v.RatingW = 12000
			v.Battery.Cell, v.Battery.MaxChargeW, v.Battery.MaxDischargeW = pack(), 12000, 12000
		}), 12000)
		run(p, 3*3600)
		v := &p.Inverters[0]
		Expect(v.PowerW).To(BeNumerically("~", 0, 1))
		Expect(v.Battery.SOC).To(BeNumerically(">", 0.97))
		volts, has := v.Battery.VoltageV()
		Expect(has).To(BeTrue())
		Expect(volts / 28).To(BeNumerically("<=", 4.15+1e-6))
		p.SetSetpoint(0, -12000)
		run(p, 3*3600)
		Expect(p.Inverters[0].Battery.SOC).To(BeNumerically("<", 0.1))
		balanced(p)
	})

	It("keeps to its reserve with a cell model too", func() {
		p := setpoint(single(func(v *InverterParams) {
			v.Battery.Cell, v.Battery.ReserveSOC = pack(), 0.2
		}), -5000)
		run(p, 2*3600)
		Expect(p.Inverters[0].Battery.SOC).To(BeNumerically("~", 0.2, 1e-3))
		Expect(p.Inverters[0].Battery.SOC).To(BeNumerically(">=", 0.2-1e-9))
		balanced(p)
	})

	It("loses its standby consumption", func() {
		p := setpoint(single(func(v *InverterParams) { v.Battery.StandbyW = 10 }), 0)
		run(p, 36000)
		Expect(p.Inverters[0].Battery.StoredWh()).To(BeNumerically("~", 5000-100, 1e-6))
		balanced(p)
	})

	It("is derated in the cold until its own heat helps", func() {
		p := setpoint(single(func(v *InverterParams) {
			v.Battery.ChargeEfficiency = 0.9
			v.Battery.Thermal = &ThermalParams{CapacityJpK: 60_000, ResistanceKpW: 0.5, AmbientC: 2, InitialC: 2,
				Derating: Derating{Charge: Curve{{0, 0}, {10, 1}}}}
		}), 5000)
		run(p, 10)
		first := p.Inverters[0].PowerW
		Expect(first).To(And(BeNumerically(">", 500), BeNumerically("<", 2000)))
		run(p, 1800)
		Expect(p.Inverters[0].PowerW).To(BeNumerically(">", first+200))
		temp, has := p.Inverters[0].Battery.TemperatureC()
		Expect(has).To(BeTrue())
		Expect(temp).To(BeNumerically(">", 2.5))
		balanced(p)
	})

	It("tells another state of charge than the true one, and jumps when it is set right", func() {
		p := setpoint(single(func(v *InverterParams) {
			v.Battery.Report = &ReportParams{Resolution: 0.01, GainError: -0.2, RecalibrateHigh: 0.98}
		}), 5000)
		run(p, 2700)
		b := &p.Inverters[0].Battery
		Expect(b.ToldSOC()).To(BeNumerically("<", b.SOC-0.05))
		p.Apply(JumpSOC{Inverter: 0, By: 0.2})
		Expect(p.Inverters[0].Battery.ToldSOC()).To(BeNumerically(">", b.SOC))
		run(p, 3600)
		Expect(p.Inverters[0].Battery.ToldSOC()).To(BeNumerically("~", p.Inverters[0].Battery.SOC, 0.01))
	})
})

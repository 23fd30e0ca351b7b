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
		finer(t, &s, v)
	}
	for i := range s.Loads {
		s.Loads[i].Feeder, s.Loads[i].Phases = feeder(), phases()
	}
	s.Arrays[0].Feeder, s.Arrays[0].Phases = feeder(), phases()
	if rapid.Bool().Draw(t, "hybrid") {
		s.Arrays[0].OnDC, s.Arrays[0].Inverter = true, rapid.IntRange(0, 1).Draw(t, "whose")
	} else if rapid.Bool().Draw(t, "answers") {
		s.Arrays[0].Response = answering()
		s.Arrays[0].Limit = &ExportLimit{Meter: 2, LimitW: 1000, PeriodS: 1, Gain: 0.2}
	}
	s.Loads = append(s.Loads,
		LoadParams{Name: "boiler", Feeder: feeder(), Phases: phases(), Kind: BurstLoad, PowerW: 2000, Duty: 0.4, PeriodS: 2, On: true},
		LoadParams{Name: "kitchen", Feeder: feeder(), Phases: phases(), Kind: RandomLoad, PowerW: 2500, MeanOnS: 20, MeanGapS: 30, On: true, PowerFactor: 0.9})
	if rapid.Bool().Draw(t, "neutral") {
		s.Supply.ResistanceOhm, s.Supply.ReactanceOhm, s.Supply.NeutralOhm, s.Supply.NeutralXOhm = 0.1, 0.06, 0.08, 0.05
	}
	s.Chargers[0].Feeder, s.Chargers[0].Phases = feeder(), phases()
	return s
}

// answering is an answer to the supply with every part of it.
func answering() *ResponseParams {
	return &ResponseParams{
		VoltWatt: VoltWatt1547(), VoltWattResponseS: 5, VoltVar: VoltVarCategoryB(), VoltVarResponseS: 5,
		Frequency: FrequencyParams{Droop: LFSMDefault(), DelayS: 0.5, ResponseS: 2}, Trips: TripStagesG98G99(230),
		Enter: EnterServiceParams{LowV: 200, HighV: 255, LowHz: 49, HighHz: 51, DelayS: 5, RampPerS: 0.1},
	}
}

// finer draws options of the finer model for an inverter.
func finer(t *rapid.T, s *Site, v *InverterParams) {
	if !rapid.Bool().Draw(t, "finer") {
		return
	}
	v.EfficiencyForm = EfficiencyForm(rapid.IntRange(0, 1).Draw(t, "efficiency"))
	v.SelfConsumptionW = rapid.SampledFrom([]float64{0, 30}).Draw(t, "own")
	v.StandbyW = rapid.SampledFrom([]float64{0, 5}).Draw(t, "standby")
	v.ResolutionW = rapid.SampledFrom([]float64{0, 10}).Draw(t, "resolution")
	v.MinimumW = rapid.SampledFrom([]float64{0, 60}).Draw(t, "least")
	v.ChangeoverS = rapid.SampledFrom([]float64{0, 2}).Draw(t, "changeover")
	v.Loop.Form = LoopForm(rapid.IntRange(0, 2).Draw(t, "form"))
	v.Loop.Deadband = DeadbandKind(rapid.IntRange(0, 2).Draw(t, "deadband"))
	v.Loop.Windup = rapid.Bool().Draw(t, "windup")
	if rapid.Bool().Draw(t, "answers") {
		v.Response = answering()
	}
	if rapid.Bool().Draw(t, "backs up") && v.Feeder > 0 {
		v.Backup = &BackupParams{Feeder: v.Feeder, ChangeoverS: 0.3, OverloadBy: 0.3, OverloadS: 1}
	}
	if rapid.Bool().Draw(t, "cell") {
		v.Battery.Cell = &CellParams{OCV: Curve{{0, 3.0}, {0.1, 3.45}, {0.9, 3.6}, {1, 4.1}}, CapacityAh: v.Battery.CapacityWh / 28 / 3.5,
			R0Ohm: 0.001, R1Ohm: 0.0008, C1F: 40000, MaxV: 4.15, MinV: 2.8, MaxChargeA: 150, MaxDischA: 150, CutoffA: 1, Series: 28}
	}
	if rapid.Bool().Draw(t, "warm") {
		v.Battery.Thermal = &ThermalParams{CapacityJpK: 50_000, ResistanceKpW: 0.3, AmbientC: 5, InitialC: 5, Derating: Derating{Charge: Curve{{0, 0}, {10, 1}}}}
		v.Battery.Report = &ReportParams{Resolution: 0.01, LagS: 5, GainError: 0.05}
	}
	v.Battery.StandbyW = rapid.SampledFrom([]float64{0, 8}).Draw(t, "drain")
}

// befall draws something that happens.
func befall(t *rapid.T, p *Plant) {
	inverter := rapid.IntRange(0, len(p.Inverters)-1).Draw(t, "inverter")
	rating := p.site.Inverters[inverter].RatingW
	switch rapid.IntRange(0, 16).Draw(t, "what") {
	case 12:
		p.Apply(Outage{LastsS: rapid.Float64Range(0, 20).Draw(t, "outage")})
	case 13:
		p.Apply(GridReturns{})
	case 14:
		p.Apply(SetGridVoltage{VoltageV: rapid.Float64Range(180, 270).Draw(t, "volts")})
	case 15:
		p.Apply(SetGridFrequency{FrequencyHz: rapid.Float64Range(46, 53).Draw(t, "hertz")})
	case 16:
		p.Apply(SetSOC{Inverter: inverter, SOC: rapid.Float64Range(0, 1).Draw(t, "soc")})
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
						most := v.par.RatingW + v.par.SelfConsumptionW + 80 // what an idle converter draws besides
						if v.Forming {
							most = v.par.RatingW*(1+v.par.Backup.OverloadBy) + v.par.SelfConsumptionW
						}
						if math.Abs(v.PowerW) > most*(1+1e-12) {
							t.Fatalf("%v W beyond the rating of %v W", v.PowerW, v.par.RatingW)
						}
						// The ramp is the inverter's own; a contactor and a battery's end are faster.
						free := !v.fine && p.supply.Live && !v.Tripped && v.Mode != Standby && v.out.ramp != 0 &&
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
		net := func(p *Plant) float64 { return p.ImportedWh() - p.ExportedWh() }
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

	It("reads meters linearly: orientation x ((1 + gain error) x flow) + offset", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			s := pair(0.1, 0.1, 0, 0, 1, 0)
			s.Inverters = nil
			m := &s.Meters[0]
			m.OffsetW = rapid.Float64Range(-50, 50).Draw(t, "offset")
			m.GainError = rapid.Float64Range(-0.1, 0.1).Draw(t, "gain error")
			m.Reversed = rapid.Bool().Draw(t, "reversed")
			s.Loads[0].PowerW = rapid.Float64Range(0, 20000).Draw(t, "power")
			p, err := New(s)
			if err != nil {
				t.Fatal(err)
			}
			p.Step()
			want := (1 + m.GainError) * s.Loads[0].PowerW
			if m.Reversed {
				want = -want
			}
			if got := p.Meters[0].ReadingW; math.Abs(got-want-m.OffsetW) > 1e-9 {
				t.Fatalf("reads %v, want %v", got, want+m.OffsetW)
			}
		})
	})

	It("draws a meter's noise once a refresh, whatever the step", func() {
		readings := func(stepMS int64) []float64 {
			s := pair(0.1, 0.1, 0, 0, 1, 1000)
			s.Inverters, s.StepMS = nil, stepMS
			s.Meters[0].NoiseW = 10
			p := mustNew(s)
			var all []float64
			for range 50 {
				run(p, 1)
				all = append(all, p.Meters[0].ReadingW)
			}
			return all
		}
		Expect(readings(50)).To(Equal(readings(100)))
		Expect(readings(1000)).To(Equal(readings(100)))
	})

	It("changes nothing but the first order of energies when the step is halved, with all events on both grids", func() {
		// The thermostat is looked at once a tick: its switching moves with the step, so it is left out of what
		// must agree, and looked at below.
		grid := func(stepMS int64) *Plant {
			s := bakery()
			s.StepMS = stepMS
			for i := range s.Meters {
				s.Meters[i].NoiseW, s.Meters[i].ResolutionW = 0, 0
			}
			s.Loads[1].On, s.Loads[2].On = false, false
			s.Sky.StartUnixS += 9 * 3600
			p := mustNew(s)
			run(p, 60)
			p.Apply(PlugIn{CurrentA: 16})
			run(p, 60)
			p.Apply(PassCloud{Depth: 0.7, EdgeS: 4, LastsS: 60})
			run(p, 120)
			return p
		}
		a, b := grid(100), grid(50)
		Expect(a.GridW).To(BeNumerically("~", b.GridW, 1e-4))
		for i := range a.Inverters {
			Expect(a.Inverters[i].PowerW).To(BeNumerically("~", b.Inverters[i].PowerW, 1e-4))
		}
		// A thermostat's energy differs by a tick of its power per switching at most: first order in the step.
		oven := func(stepMS int64) (wh float64, switchings int) {
			s := bakery()
			s.Inverters, s.Meters, s.StepMS = nil, nil, stepMS
			p := mustNew(s)
			calls := false
			for p.TimeMS() < 2*3600_000 {
				p.Step()
				if p.Loads[1].Calls != calls {
					calls, switchings = !calls, switchings+1
				}
			}
			return p.Loads[1].Energy.Wh(), switchings
		}
		fine, _ := oven(10)
		for _, step := range []int64{20, 50, 100, 200, 500, 1000} {
			wh, switchings := oven(step)
			Expect(switchings).To(BeNumerically(">", 20))
			Expect(math.Abs(wh-fine)).To(BeNumerically("<", float64(switchings)*9000*float64(step)/3.6e6), "step %d ms", step)
		}
	})
})

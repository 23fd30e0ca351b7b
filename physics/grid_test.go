package physics

import (
	"math"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"
)

// weakGrid is a house at the end of a long line with one PV array and no batteries.
func weakGrid() Site {
	s := bakery()
	s.Phases = 1
	s.Inverters, s.Loads, s.Chargers, s.Meters = nil, nil, nil, nil
	z := ReferenceImpedance()
	s.Supply.ResistanceOhm, s.Supply.ReactanceOhm = z.ResistanceOhm, z.ReactanceOhm
	s.Loads = []LoadParams{{Name: "base", PowerW: 0, On: true}}
	s.Sky.StartUnixS += 11 * 3600
	return s
}

var _ = Describe("the supply's voltage", func() {
	It("with a neutral equals the closed forms for equal loads, and for one phase loaded alone", func() {
		z, zn := ReferencePhaseImpedance(), ReferenceNeutralImpedance()
		e := [3]float64{230, 230, 230}
		v, n := VoltagesWithNeutral(e, z, zn, [3]float64{3680, 3680, 3680}, [3]float64{}, [2]float64{})
		for _, x := range v {
			Expect(x).To(BeNumerically("~", 226.0805, 1e-4)) // GV-08 (recomputed)
		}
		Expect(math.Hypot(n[0], n[1])).To(BeNumerically("<", 1e-9))
		v, _ = VoltagesWithNeutral(e, z, zn, [3]float64{3680, 0, 0}, [3]float64{}, [2]float64{})
		Expect(v[0]).To(BeNumerically("~", 223.3733, 1e-4)) // GV-02 (recomputed): phase and neutral together
		Expect(v[1]).NotTo(BeNumerically("~", 230, 0.5), "the neutral's shift is felt in the other phases")
	})

	It("with a neutral obeys Kirchhoff whatever is drawn", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			power := func() float64 { return rapid.Float64Range(-6000, 6000).Draw(t, "power") }
			w, q := [3]float64{power(), power(), power()}, [3]float64{power() / 4, power() / 4, power() / 4}
			z, zn := ReferencePhaseImpedance(), ReferenceNeutralImpedance()
			v, n := VoltagesWithNeutral([3]float64{230, 230, 230}, z, zn, w, q, [2]float64{})
			again, n2 := VoltagesWithNeutral([3]float64{230, 230, 230}, z, zn, w, q, n)
			for k := range v {
				if math.Abs(v[k]-again[k]) > 1e-4 || math.Abs(n[0]-n2[0]) > 1e-4 {
					t.Fatalf("not settled: %v then %v", v, again)
				}
			}
		})
	})

	It("rises on export, and holds PV back by volt-watt", func() {
		s := weakGrid()
		free := mustNew(s)
		run(free, 60)
		s.Arrays[0].Response = &ResponseParams{VoltWatt: VoltWatt1547(), VoltWattResponseS: 10}
		held := mustNew(s)
		run(held, 600)
		Expect(free.VoltageV(L1)).To(BeNumerically(">", 1.06*230))
		Expect(-held.Arrays[0].PowerW).To(BeNumerically("<", -0.99*free.Arrays[0].PowerW))
		// At rest the array stands on the curve.
		share := VoltWatt1547().At(held.VoltageV(L1) / 230)
		Expect(-held.Arrays[0].PowerW).To(BeNumerically("~", min(share*10000, -free.Arrays[0].PowerW), 60))
		balanced(held)
	})

	It("is held down by volt-var, which absorbs reactive power", func() {
		s := weakGrid()
		free := mustNew(s)
		run(free, 60)
		s.Arrays[0].Response = &ResponseParams{VoltVar: VoltVarCategoryB(), VoltVarResponseS: 5}
		held := mustNew(s)
		run(held, 60)
		Expect(held.Arrays[0].Reactive).To(BeNumerically(">", 500))
		Expect(held.VoltageV(L1)).To(BeNumerically("<", free.VoltageV(L1)-0.5))
	})

	It("follows a load's power factor", func() {
		s := weakGrid()
		s.Arrays = nil
		s.Loads[0] = LoadParams{Name: "motor", PowerW: 3000, On: true, PowerFactor: 0.8}
		p := mustNew(s)
		run(p, 1)
		Expect(p.VoltageV(L1)).To(BeNumerically("~", VoltageAtInlet(230, 0.40, 0.25, 3000, 2250), 1e-9))
	})
})

var _ = Describe("the supply's frequency", func() {
	It("above 50.2 Hz takes PV back by 40 % of its power per Hz (GC-32)", func() {
		s := weakGrid()
		s.Supply.ResistanceOhm, s.Supply.ReactanceOhm = 0, 0
		s.Arrays[0].Response = &ResponseParams{Frequency: FrequencyParams{Droop: LFSMDefault()}}
		p := mustNew(s)
		run(p, 10)
		before := -p.Arrays[0].PowerW
		p.Apply(SetGridFrequency{FrequencyHz: 50.5})
		run(p, 5)
		Expect(-p.Arrays[0].PowerW / before).To(BeNumerically("~", 1-0.12, 2e-3))
		p.Apply(SetGridFrequency{FrequencyHz: 50})
		run(p, 5)
		Expect(-p.Arrays[0].PowerW / before).To(BeNumerically("~", 1, 2e-3))
	})

	It("trips protection beyond the table, and lets it return when it has been well for the delay", func() {
		s := weakGrid()
		s.Supply.ResistanceOhm, s.Supply.ReactanceOhm = 0, 0
		s.Arrays[0].Response = &ResponseParams{Trips: TripStagesG98G99(230),
			Enter: EnterServiceParams{LowV: 207, HighV: 253, LowHz: 49, HighHz: 51, DelayS: 20}}
		p := mustNew(s)
		run(p, 10)
		p.Apply(SetGridVoltage{VoltageV: 265}) // over 1.14 of nominal for more than 1 s
		run(p, 0.9)
		Expect(p.Arrays[0].PowerW).To(BeNumerically("<", -1000))
		run(p, 0.3)
		Expect(p.Arrays[0].PowerW).To(BeZero())
		p.Apply(SetGridVoltage{VoltageV: 230})
		run(p, 19.5)
		Expect(p.Arrays[0].PowerW).To(BeZero())
		run(p, 1)
		Expect(p.Arrays[0].PowerW).To(BeNumerically("<", -1000))
		balanced(p)
	})
})

var _ = Describe("the main fuse", func() {
	It("melts under an overload after its pre-arcing time, and takes the supply away", func() {
		s := weakGrid()
		s.Arrays = nil
		s.Supply.ResistanceOhm, s.Supply.ReactanceOhm = 0, 0
		s.Supply.FuseA, s.Supply.FuseMelts, s.Supply.FusePosition = 32, true, 0.5
		s.Loads[0].PowerW = 230 * 150 // between the gates at 10 s and 5 s of a 32 A link (OC-04)
		f, err := NewFuse(32, 0.5, 0.1)
		Expect(err).NotTo(HaveOccurred())
		p := mustNew(s)
		seconds := f.PreArcingS(150)
		run(p, math.Floor(seconds*10)/10-0.2)
		Expect(p.Supply().Blown).To(BeFalse())
		Expect(p.Supply().FuseLoad).To(BeNumerically(">", 0.8))
		run(p, 0.6)
		Expect(p.Supply().Blown).To(BeTrue())
		Expect(p.GridW).To(BeZero())
		p.Apply(GridReturns{})
		run(p, 1)
		Expect(p.GridW).To(BeZero(), "a melted fuse stays melted")
		balanced(p)
	})

	It("carries its rated current for ever", func() {
		s := weakGrid()
		s.Arrays = nil
		s.Supply.FuseA, s.Supply.FuseMelts = 32, true
		s.Loads[0].PowerW = 32 * 215
		p := mustNew(s)
		run(p, 7200)
		Expect(p.Supply().Blown).To(BeFalse())
	})
})

var _ = Describe("an export limitation", func() {
	It("throttles PV until its meter exports no more than allowed", func() {
		s := weakGrid()
		s.Meters = []MeterParams{{Name: "inlet", RefreshS: 1}}
		s.Arrays[0].Limit = &ExportLimit{Meter: 0, LimitW: 2000, PeriodS: 1, Gain: 0.3}
		p := mustNew(s)
		run(p, 120)
		Expect(p.GridW).To(BeNumerically("~", -2000, 5))
		p.Apply(SetLoad{Load: 0, PowerW: 3000})
		run(p, 120)
		Expect(p.GridW).To(BeNumerically("~", -2000, 5))
	})
})

var _ = Describe("an outage", func() {
	backed := func() Site {
		s := bakery()
		for i := range s.Inverters {
			s.Inverters[i].Feeder = 1
			s.Inverters[i].Battery.MaxDischargeW = 9000
		}
		s.Inverters[0].Backup = &BackupParams{Feeder: 1, ChangeoverS: 0.2, OverloadBy: 0.5, OverloadS: 2}
		for i := range s.Loads {
			s.Loads[i].On = false
		}
		s.Loads[0].Feeder = 2 // base load in the yard
		s.Loads = append(s.Loads, LoadParams{Name: "lights", Feeder: 1, PowerW: 600, On: true})
		return s
	}
	const lights = 4

	It("leaves the site dark but for the feeder that is backed up, after the changeover", func() {
		p := mustNew(backed())
		run(p, 30)
		p.Apply(Outage{LastsS: 60})
		run(p, 0.1)
		Expect(p.GridW).To(BeZero())
		Expect(p.Loads[lights].PowerW).To(BeZero())
		run(p, 0.3)
		Expect(p.Inverters[0].Forming).To(BeTrue())
		Expect(p.Loads[lights].PowerW).To(Equal(600.0))
		Expect(p.Loads[0].PowerW).To(BeZero(), "the yard is dark")
		Expect(p.Inverters[0].PowerW).To(Equal(-600.0))
		Expect(p.Inverters[1].PowerW).To(BeZero(), "the other inverter rests")
		Expect(p.FeederW(1)).To(BeNumerically("~", 0, 1e-9))
		Expect(p.VoltageV(L1)).To(BeZero())
		run(p, 60)
		Expect(p.Inverters[0].Forming).To(BeFalse())
		Expect(p.Supply().Live).To(BeTrue())
		balanced(p)
	})

	It("trips the forming inverter on an overload that it does not bear", func() {
		p := mustNew(backed())
		run(p, 30)
		p.Apply(Outage{})
		run(p, 5)
		p.Apply(SetLoad{Load: lights, PowerW: 6000}) // 20 % over
		run(p, 1.8)
		Expect(p.Inverters[0].PowerW).To(Equal(-6000.0))
		run(p, 0.5)
		Expect(p.Inverters[0].Forming).To(BeFalse())
		Expect(p.Loads[lights].PowerW).To(BeZero())
		p.Apply(GridReturns{})
		run(p, 5)
		Expect(p.Loads[lights].PowerW).To(Equal(6000.0))
		balanced(p)
		p.Apply(Outage{})
		run(p, 1)
		Expect(p.Loads[lights].PowerW).To(Equal(6000.0))
		p.Apply(SetLoad{Load: lights, PowerW: 8000}) // 60 % over: at once
		run(p, 0.1)
		Expect(p.Loads[lights].PowerW).To(BeZero())
		balanced(p)
	})

	It("throttles PV in the island to what loads and battery take", func() {
		s := backed()
		s.Arrays[0].Feeder = 1
		s.Sky.StartUnixS += 11 * 3600
		p := mustNew(s)
		run(p, 30)
		p.Apply(Outage{})
		run(p, 30)
		Expect(p.Inverters[0].PowerW).To(BeNumerically("~", 5000, 1e-6), "the battery charges with all of its rating")
		Expect(p.Arrays[0].PowerW).To(BeNumerically("~", -5600, 1e-6))
		balanced(p)
	})

	It("ends with an empty battery", func() {
		s := backed()
		s.Inverters[0].Battery.InitialSOC = 0.02
		s.Loads[lights].PowerW = 3000
		p := mustNew(s)
		run(p, 5)
		p.Apply(Outage{})
		run(p, 1800)
		Expect(p.Inverters[0].Forming).To(BeFalse())
		Expect(p.Inverters[0].Battery.SOC).To(BeNumerically(">=", 0))
		balanced(p)
	})
})

var _ = Describe("meters of the finer model", func() {
	three := func(change func(*MeterParams)) *Plant {
		GinkgoHelper()
		s := bakery()
		s.Inverters, s.Arrays, s.Chargers = nil, nil, nil
		s.Loads = []LoadParams{
			{Name: "one", Phases: L1, PowerW: 2300, On: true},
			{Name: "two", Phases: L2, PowerW: 2300, On: true},
			{Name: "three", Phases: L3, PowerW: 2300, On: true},
		}
		s.Meters = []MeterParams{{Name: "inlet", RefreshS: 1}}
		change(&s.Meters[0])
		p := mustNew(s)
		run(p, 3)
		return p
	}

	// 230 V, 10 A per phase, unity power factor; each row recomputed.
	DescribeTable("read what wrongly fitted transformers show",
		func(w CTWiring, total float64) {
			p := three(func(m *MeterParams) { m.CTs = &w })
			Expect(p.Meters[0].ReadingW).To(BeNumerically("~", total, 1e-9))
		},
		Entry("CT-20: right", RightWiring(), 6900.0),
		Entry("CT-21: one reversed", CTWiring{{Clasps: L1, Reversed: true}, {Clasps: L2}, {Clasps: L3}}, 2300.0),
		Entry("CT-22: all reversed", CTWiring{{Clasps: L1, Reversed: true}, {Clasps: L2, Reversed: true}, {Clasps: L3, Reversed: true}}, -6900.0),
		Entry("CT-23: two swapped", CTWiring{{Clasps: L2}, {Clasps: L1}, {Clasps: L3}}, 0.0),
		Entry("CT-24: rotated", CTWiring{{Clasps: L2}, {Clasps: L3}, {Clasps: L1}}, -3450.0),
	)

	It("register net flow or each phase apart, which differ (CT-25)", func() {
		flows := func(perPhase bool) (float64, float64) {
			s := bakery()
			s.Inverters, s.Chargers, s.Loads = nil, nil, nil
			s.Arrays = nil
			s.Loads = []LoadParams{{Name: "one", Phases: L1, PowerW: 2000, On: true}}
			s.Inverters = pair(0.1, 0.1, 0, 0, 1, 0).Inverters
			s.Inverters[0].Phases, s.Inverters[1].Phases = L2, L3
			for i := range s.Inverters {
				s.Inverters[i].Loop.Meter = -1
			}
			s.Meters = []MeterParams{{Name: "inlet", RefreshS: 1, PerPhase: perPhase}}
			p := mustNew(s)
			for i, w := range []float64{-500, -1000} {
				p.SetMode(i, FollowSetpoint)
				p.SetSetpoint(i, w)
			}
			run(p, 3600)
			return p.Meters[0].ImportedWh(), p.Meters[0].ExportedWh()
		}
		in, out := flows(false)
		Expect(in).To(BeNumerically("~", 500, 0.1))
		Expect(out).To(BeZero())
		in, out = flows(true)
		Expect(in).To(BeNumerically("~", 2000, 0.1))
		Expect(out).To(BeNumerically("~", 1500, 0.1))
	})

	It("draw errors within their class, once and by seed", func() {
		class, ct := MeterClass1, CTClass05
		limit, minutes := CTErrorLimit(ct, 100)
		for seed := range uint64(200) {
			s := bakery()
			s.Seed = seed
			s.Meters = []MeterParams{{Name: "inlet", RefreshS: 1, Class: &class, CTClass: &ct}}
			s.Inverters = nil
			p := mustNew(s)
			m := &p.Meters[0]
			Expect(math.Abs(m.gain-1) * 100).To(BeNumerically("<=", MeterErrorLimit(class, 1, false)))
			for _, t := range m.fitted {
				Expect(math.Abs(t.GainError) * 100).To(BeNumerically("<=", limit))
				Expect(math.Abs(t.PhaseMinutes)).To(BeNumerically("<=", minutes))
			}
		}
	})

	It("are wrong by the angle of their transformers where the power factor is low (CT-07)", func() {
		s := bakery()
		s.Phases = 1
		s.Inverters, s.Arrays, s.Chargers = nil, nil, nil
		s.Loads = []LoadParams{{Name: "motor", PowerW: 1000, On: true, PowerFactor: 0.5}}
		w := CTWiring{{Clasps: L1, PhaseMinutes: 30}}
		s.Meters = []MeterParams{{Name: "inlet", RefreshS: 1, CTs: &w}}
		p := mustNew(s)
		run(p, 3)
		Expect(p.Meters[0].ReadingW/1000 - 1).To(BeNumerically("~", 0.01507673, 1e-7))
	})
})

var _ = Describe("loads of the finer model", func() {
	It("fire in bursts of the duty", func() {
		s := weakGrid()
		s.Arrays = nil
		s.Loads[0] = LoadParams{Name: "boiler", Kind: BurstLoad, PowerW: 3000, Duty: 0.3, PeriodS: 2, On: true}
		p := mustNew(s)
		run(p, 3600)
		Expect(p.Loads[0].Energy.Wh()).To(BeNumerically("~", 900, 1e-9))
		balanced(p)
	})

	It("come and go by a seeded process whose means are as asked, and keep to the hours", func() {
		day := func(seed uint64, share [24]float64) (wh, firstHours float64) {
			s := weakGrid()
			s.Arrays, s.Seed, s.StepMS = nil, seed, 1000
			s.Loads[0] = LoadParams{Name: "kitchen", Kind: RandomLoad, PowerW: 3000, MeanOnS: 300, MeanGapS: 900, HourShare: share, On: true}
			p := mustNew(s)
			run(p, 6*3600)
			firstHours = p.Loads[0].Energy.Wh()
			run(p, 18*3600)
			return p.Loads[0].Energy.Wh(), firstHours
		}
		total := 0.0
		for seed := range uint64(40) {
			wh, _ := day(seed, [24]float64{})
			total += wh
		}
		// On for 300 of 1200 s, at two thirds of 3 kW in the mean: 12 kWh a day.
		Expect(total / 40).To(BeNumerically("~", 12000, 800))
		var share [24]float64
		for h := 6; h < 22; h++ {
			share[h] = 1
		}
		_, night := day(1, share)
		Expect(night).To(BeZero())
	})
})

var _ = Describe("a charger of the finer model", func() {
	surplus := func() Site {
		s := weakGrid()
		s.Supply.ResistanceOhm, s.Supply.ReactanceOhm = 0, 0
		s.Meters = []MeterParams{{Name: "inlet", RefreshS: 1}}
		s.Chargers = []ChargerParams{{Name: "van", MaxA: 32, MinA: 6, CommandedA: 32, ResponseS: 1, RampAps: 4,
			Surplus: &SurplusParams{Meter: 0, PeriodS: 5, Gain: 0.5, HoldS: 30}}}
		return s
	}

	It("follows surplus, pauses when there is not enough for its least current, and resumes", func() {
		p := mustNew(surplus())
		p.Apply(SetLoad{Load: 0, PowerW: 4000})
		p.Apply(PlugIn{CurrentA: 32})
		run(p, 300)
		Expect(p.Chargers[0].State()).To(Equal(PilotC))
		Expect(p.GridW).To(BeNumerically("~", 0, 60))
		amps := p.Chargers[0].CurrentA
		Expect(p.Chargers[0].DutyPercent()).To(BeNumerically("~", amps/0.6, 2))
		p.Apply(SetLoad{Load: 0, PowerW: 9000})
		run(p, 20)
		Expect(p.Chargers[0].CurrentA).To(BeNumerically("~", 6, 1e-6), "it does not shrink under its least current")
		run(p, 60)
		Expect(p.Chargers[0].CurrentA).To(BeZero())
		Expect(p.Chargers[0].State()).To(Equal(PilotB))
		p.Apply(SetLoad{Load: 0, PowerW: 0})
		run(p, 200)
		Expect(p.Chargers[0].CurrentA).To(BeNumerically(">", 6))
		balanced(p)
	})

	It("lets the vehicle taper towards what it wants", func() {
		s := surplus()
		s.Chargers[0].Surplus = nil
		s.Chargers[0].TaperWh = 1000
		p := mustNew(s)
		p.Apply(PlugIn{CurrentA: 32, EnergyWh: 3000})
		run(p, 900)
		Expect(p.Chargers[0].CurrentA).To(BeNumerically("~", 32, 1e-9))
		run(p, 900)
		Expect(p.Chargers[0].CurrentA).To(BeNumerically("<", 20))
		run(p, 7200)
		Expect(p.Chargers[0].Satisfied).To(BeTrue())
		Expect(p.Chargers[0].SessionWh).To(BeNumerically("~", 3000, 5))
	})
})

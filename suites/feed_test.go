package suites_test

import (
	"math"
	"testing"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator"
	"kilter/physics"
	"kilter/scenarios"
	"kilter/suites"
	"kilter/suites/criteria"
)

// everything is a built-in story of which everything is asked.
func everything(story string) *scenarios.Scenario {
	sc, err := scenarios.Builtin(story)
	if err != nil {
		panic(err)
	}
	bound := func(v float64) *float64 { return &v }
	episode := time.Minute
	sc.Must = scenarios.Must{
		Import: &scenarios.Flow{BelowW: 18000, Except: 20 * time.Second, EnergyWh: bound(50)}, Export: &scenarios.Flow{BelowW: 10000},
		Settle: &scenarios.Settle{BandW: 200, Within: time.Minute, OvershootW: bound(2000)}, Hunting: &scenarios.Hunting{BelowW: 150, GoneWithin: 2 * time.Minute},
		Circulating: &scenarios.Circulating{BelowW: 120, Except: 30 * time.Second, Episode: &episode, EnergyWh: bound(50)},
		SOCSpread:   &scenarios.Spread{Below: 0.1}, Reserve: &scenarios.Reserve{}, SupplyCurrent: &scenarios.SupplyCurrent{Except: 20 * time.Second},
		FuseHeating: &scenarios.FuseHeating{Below: 0.9}, Schedule: &scenarios.Schedule{Target: 0.9, Missing: 0.05, During: &scenarios.Window{To: 10 * time.Minute}},
		AvoidableImport: &scenarios.AvoidableEnergy{BelowWh: 200}, AvoidableExport: &scenarios.AvoidableEnergy{BelowWh: 200},
		Wear:           &scenarios.Wear{CyclesPerDay: bound(1.5), ReversalsPerHour: bound(20), ModeFlipsPerHour: bound(20)},
		CommandEconomy: &scenarios.CommandEconomy{WritesPerHour: bound(60), Gap: 2 * time.Second},
		WireManners:    &scenarios.WireManners{ReadsPerS: 5, Over: 10 * time.Second},
		FailSafe:       &scenarios.FailSafe{BelowW: 100, Within: time.Minute, NativeIsSafe: true},
		Recovery:       &scenarios.Recovery{BandW: 200, Within: time.Minute, Hold: 10 * time.Second}, Reversion: &scenarios.Reversion{Within: 10 * time.Second},
		Formulas: []scenarios.Formula{
			{Name: "back", Sentence: "always (grid > 18 kW implies eventually within 20 s always for 5 s grid <= 18 kW)"},
			{Name: "apart", Sentence: "abs(north.soc - south.soc) < 30 % until within 10 min supply.l1 < 90 A per 900 A"},
		},
	}
	return sc
}

// fed makes the judge of a scenario, and a tick of its plant.
func fed(sc *scenarios.Scenario) (suites.Judging, *emulator.Tick) {
	GinkgoHelper()
	site := sc.Site.Plant
	site.StepMS = sc.Step.Milliseconds()
	plant, err := physics.New(site)
	Expect(err).NotTo(HaveOccurred())
	j, err := suites.NewJudging(sc)
	Expect(err).NotTo(HaveOccurred())
	return j, &emulator.Tick{Plant: plant}
}

var _ = Describe("the monitors", func() {
	It("see the least, the actual and the most current of each phase", func() {
		f, t := fed(everything("calm-start"))
		t.Plant.Apply(physics.SetLoad{Load: 3, PowerW: 3000})
		for range 600 {
			t.Plant.Step()
		}
		s := f.Fill(t)
		Expect(s.Phases).To(HaveLen(3))
		give, take := 0.0, 0.0
		for _, v := range s.Inverters {
			give, take = give+v.DischargeRoomW, take+v.ChargeRoomW
		}
		Expect(give).To(BeNumerically("~", 8600, 1))
		for k, p := range s.Phases {
			volts := t.Plant.VoltageV(physics.L1 + physics.Phases(k))
			Expect(p.CurrentA).To(BeNumerically("~", math.Abs(s.GridW)/3/volts, 1e-9))
			Expect(p.LeastA).To(BeZero(), "the batteries can cover all of 3 kW")
			Expect(p.MostA).To(BeNumerically("~", (s.NetLoadW+take)/3/volts, 1e-9))
		}
		Expect(s.FuseA).To(Equal(32.0))
	})

	It("see what the supply carries that no battery can take from it", func() {
		f, t := fed(everything("calm-start"))
		t.Plant.Apply(physics.SetLoad{Load: 3, PowerW: 15000})
		for range 600 {
			t.Plant.Step()
		}
		s := f.Fill(t)
		for k, p := range s.Phases {
			volts := t.Plant.VoltageV(physics.L1 + physics.Phases(k))
			Expect(p.LeastA).To(BeNumerically("~", (15000-8600)/3/volts, 0.01))
			Expect(p.LeastA).To(BeNumerically("<=", p.CurrentA+1e-9))
		}
	})

	It("see what each inverter was told, and the owner's reserve whatever was written", func() {
		f, t := fed(everything("calm-start"))
		t.Plant.SetChargeLimit(0, 1000)
		t.Plant.SetMode(1, physics.FollowSetpoint)
		t.Plant.SetDischargeLimit(1, -500)
		t.Plant.SetReserve(1, 0.02)
		t.Plant.Step()
		s := f.Fill(t)
		Expect(s.Inverters[0].Limits).To(Equal(criteria.ChargeLimited))
		Expect(s.Inverters[0].Mode).To(Equal(criteria.ModeNative))
		Expect(s.Inverters[1].Limits).To(Equal(criteria.DischargeLimited))
		Expect(s.Inverters[1].Mode).To(Equal(criteria.ModeSetpoint))
		Expect(s.Inverters[1].Reserve).To(Equal(0.1))
		Expect(s.Inverters[1].CapacityWh).To(Equal(6400.0))
		t.Plant.SetConnected(0, false)
		t.Plant.Step()
		s = f.Fill(t)
		Expect(s.Inverters[0].Away).To(BeTrue())
		Expect(s.Inverters[0].Limits).To(Equal(criteria.ChargeLimited | criteria.Disconnected))
	})

	It("see an island, a vehicle, and which links are lost", func() {
		f, t := fed(everything("outage"))
		t.Plant.Apply(physics.PlugIn{Charger: 0, CurrentA: 16})
		for range 100 {
			t.Plant.Step()
		}
		s := f.Fill(t)
		Expect(s.VehicleCharging).To(BeTrue())
		Expect(s.ChargerW).To(BeNumerically("~", 11040, 1))
		Expect(s.Islanded).To(BeFalse())
		t.Plant.Apply(physics.Outage{})
		t.Plant.Step()
		t.Lost = make([]bool, f.Devices())
		t.Lost[f.Link(1)] = true
		s = f.Fill(t)
		Expect(s.Islanded).To(BeTrue())
		Expect(s.Inverters[0].LinkLost).To(BeFalse())
		Expect(s.Inverters[1].LinkLost).To(BeTrue())
		Expect(s.MeterLost).To(BeFalse())
		t.Lost[f.Grid()] = true
		Expect(f.Fill(t).MeterLost).To(BeTrue())
	})

	It("cost nothing in memory, all of them together", func() {
		j, t := fed(everything("calm-start"))
		step := func() { t.Plant.Step(); j.See(t) }
		for range 1000 {
			step()
		}
		Expect(testing.AllocsPerRun(1000, step)).To(BeZero())
	})
})

// BenchmarkJudge is all criteria on the bakery, what they are fed included. The plant's own step is not.
func BenchmarkJudge(b *testing.B) {
	sc := everything("oven-cycling")
	site := sc.Site.Plant
	site.StepMS = sc.Step.Milliseconds()
	plant, err := physics.New(site)
	if err != nil {
		b.Fatal(err)
	}
	plant.Apply(physics.SwitchLoad{Load: 0, On: true})
	j, err := suites.NewJudging(sc)
	if err != nil {
		b.Fatal(err)
	}
	t := &emulator.Tick{Plant: plant}
	b.ReportAllocs()
	// Looking at the clock takes a good part of what is measured: two looks without anything between tell it.
	var look, fill, watch time.Duration
	for b.Loop() {
		plant.Step()
		looked := time.Now()
		begun := time.Now()
		s := j.Fill(t)
		fed := time.Now()
		j.Observe(s)
		watch += time.Since(fed)
		fill += fed.Sub(begun)
		look += begun.Sub(looked)
	}
	b.ReportMetric(float64((fill-look).Nanoseconds())/float64(b.N), "ns/feed")
	b.ReportMetric(float64((watch-look).Nanoseconds())/float64(b.N), "ns/monitors")
}

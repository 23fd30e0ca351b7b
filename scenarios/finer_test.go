package scenarios

import (
	"os"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/physics"
)

var _ = Describe("a site in all its words", func() {
	s, err := LoadScenario("testdata/finer-story.yaml")
	plant := func() *physics.Site {
		GinkgoHelper()
		Expect(err).NotTo(HaveOccurred())
		return &s.Site.Plant
	}

	It("makes a plant, which runs", func() {
		p, err := physics.New(*plant())
		Expect(err).NotTo(HaveOccurred())
		for range 600 {
			p.Step()
		}
	})

	It("loads again from what it resolves to", func() {
		plant()
		expectRoundTrip(s)
	})

	It("conforms to the schema as it is written and as it resolves", func() {
		plant()
		for _, file := range []string{"testdata/finer-site.yaml", "testdata/finer-story.yaml"} {
			text, err := os.ReadFile(file)
			Expect(err).NotTo(HaveOccurred())
			Expect(judge(text)).To(BeEmpty(), file)
		}
		text, err := s.Resolve()
		Expect(err).NotTo(HaveOccurred())
		Expect(judge(text)).To(BeEmpty())
	})

	It("has a supply with a neutral and a fuse that melts", func() {
		u := plant().Supply
		Expect(u.FuseMelts).To(BeTrue())
		Expect(u.FusePosition).To(Equal(0.3))
		Expect(u.NeutralOhm).To(Equal(0.16))
		Expect(u.NeutralXOhm).To(Equal(0.1))
	})

	It("tells how a meter's transformers are fitted", func() {
		m := plant().Meters[0]
		Expect(*m.CTs).To(Equal(physics.CTWiring{
			{Clasps: physics.L2}, {Clasps: physics.L1, GainError: 0.015, PhaseMinutes: 40}, {Clasps: physics.L3, Reversed: true},
		}))
		Expect(*m.Class).To(Equal(physics.MeterClass05S))
		Expect(*m.CTClass).To(Equal(physics.CTClass1))
		Expect(m.PerPhase).To(BeTrue())
	})

	It("has windows of an inverter's own on the local clock, cut to the run", func() {
		// The run goes from 01:30 to 03:30.
		Expect(plant().Inverters[0].Timed).To(Equal([]physics.TimedMode{{FromMS: 30 * 60_000, ToMS: 120 * 60_000, PowerW: 3000}}))
		Expect(plant().StartSecondOfDay).To(Equal(int64(5400)))
	})

	It("repeats them each day", func() {
		again := mustParse("format: 1\nscenario: X\nsite: {site: x, supply: {phases: 1, devices: {north: {inverter: {rating: 5 kW, battery: {capacity: 1 kWh}, " +
			"timed: [{from: 23:00, to: 01:00, discharge: 1 kW}, {from: 02:00, to: 03:00, charge: 2 kW}]}}}}}\nstarts: 2026-06-18 12:00\nlasts: 48 h\n")
		h := int64(3600_000)
		Expect(again.Site.Plant.Inverters[0].Timed).To(Equal([]physics.TimedMode{
			{FromMS: 11 * h, ToMS: 13 * h, PowerW: -1000}, {FromMS: 14 * h, ToMS: 15 * h, PowerW: 2000},
			{FromMS: 35 * h, ToMS: 37 * h, PowerW: -1000}, {FromMS: 38 * h, ToMS: 39 * h, PowerW: 2000},
		}))
	})

	It("answers the supply by published defaults or by figures of its own", func() {
		north, roof := *plant().Inverters[0].Response, plant().Arrays[0].Response
		Expect(north.VoltWatt).To(Equal(physics.VoltWatt1547()))
		Expect(north.VoltVar).To(Equal(physics.VoltVarCategoryB()))
		Expect(north.VoltVarResponseS).To(Equal(5.0))
		Expect(north.Frequency).To(Equal(physics.FrequencyParams{
			Droop:   physics.Droop{NominalHz: 50, UnderHz: 49.8, OverHz: 50.2, UnderDroop: 0.05, OverDroop: 0.05},
			RatingW: 5000, DelayS: 0.2, ResponseS: 2, Hold: true, ReleaseS: 600,
		}))
		Expect(north.Trips).To(Equal([]physics.TripStage{
			{Kind: physics.OverVoltage, Threshold: 264, DelayS: 0.5}, {Kind: physics.UnderVoltage, Threshold: 195, DelayS: 3},
			{Kind: physics.OverFrequency, Threshold: 51.5, DelayS: 0.5}, {Kind: physics.UnderFrequency, Threshold: 47.5, DelayS: 0.5},
		}))
		Expect(north.Enter.RampPerS * 60).To(BeNumerically("~", 0.1, 1e-15))
		north.Enter.RampPerS = 0
		Expect(north.Enter).To(Equal(physics.EnterServiceParams{LowV: 207, HighV: 253, LowHz: 49.5, HighHz: 50.1, DelayS: 60}))
		// 253 V and 260 V of 230 V.
		Expect(roof.VoltWatt[0].X).To(Equal(1.1))
		Expect(roof.VoltWatt.At(256.5/230)).To(BeNumerically("~", 0.6, 1e-9), "half way from all to a fifth")
		Expect(roof.VoltVar).To(Equal(physics.Curve{{X: 0.9, Y: -0.44}, {X: 220.0 / 230, Y: 0}, {X: 1.04, Y: 0}, {X: 1.12, Y: 0.6}}))
		Expect(plant().Arrays[1].Response.VoltWatt).To(Equal(physics.Curve{{X: 250.0 / 230, Y: 1}, {X: 255.0 / 230, Y: 0}}))
		Expect(roof.Frequency.Droop).To(Equal(physics.LFSMDefault()))
		Expect(roof.Trips).To(Equal(physics.TripStagesG98G99(230)))
		Expect(roof.Enter).To(Equal(physics.EnterServiceParams{}))
	})

	It("has the published response time beside a published curve, unless it says another", func() {
		f := &siteFile{}
		out := &findings{}
		Expect(readInto(f, "x.yaml", []byte("format: 1\nsite: x\nplace: {latitude: 0 deg, longitude: 0 deg}\nsupply: {phases: 1, devices: "+
			"{pv: {array: {peak: 1 kW, rating: 1 kW, answers: {volt_var: ieee 1547 a, frequency: ieee 1547}}}}}\n"), out)).To(Succeed())
		s := buildSite(f, aloneDay(DefaultStep, out))
		Expect(out.err()).NotTo(HaveOccurred())
		r := s.Plant.Arrays[0].Response
		Expect(r.VoltVarResponseS).To(Equal(physics.VoltVarResponseCategoryAS))
		Expect(r.Frequency.RatingW).To(Equal(1000.0))
		Expect(r.Frequency.ResponseS).To(Equal(physics.Droop1547ResponseS))
	})

	It("holds a battery's cells, temperature and report", func() {
		b := plant().Inverters[0].Battery
		Expect(b.Cell.OCV).To(HaveLen(4))
		Expect(b.Cell.R0Ohm).To(Equal(0.0008))
		Expect(b.Cell.C1F).To(Equal(40000.0))
		// By hand: trapezoids of 0.1 x 3.0 + 0.8 x 3.275 + 0.1 x 3.425 = 3.2625 V, x 200 Ah x 16.
		Expect(b.CapacityWh).To(BeNumerically("~", 10440, 1e-9))
		Expect(b.Thermal.CapacityJpK).To(Equal(90_000.0))
		Expect(b.Thermal.Derating.Charge.At(7.5)).To(Equal(0.5))
		Expect(*b.Report).To(Equal(physics.ReportParams{
			Resolution: 0.01, LagS: 10, GainError: 0.02, InitialError: -0.03, RecalibrateHigh: 0.98, RecalibrateLow: 0.12,
		}))
	})

	It("has loops, backups and loads of every kind", func() {
		p := plant()
		Expect(p.Inverters[0].EfficiencyForm).To(Equal(physics.PartLoadEfficiency))
		Expect(p.Inverters[1].EfficiencyForm).To(Equal(physics.SandiaEfficiency))
		Expect(p.Inverters[1].Sandia.C0).To(Equal(-8e-6))
		Expect(p.Inverters[0].Loop.Form).To(Equal(physics.FromActual))
		Expect(p.Inverters[1].Loop.Form).To(Equal(physics.FeedForward))
		Expect(p.Inverters[1].Loop.Deadband).To(Equal(physics.Remainder))
		back := p.Inverters[0].Backup
		Expect(p.Feeders[back.Feeder].Name).To(Equal("back_room"))
		Expect(back.OverloadBy).To(Equal(0.5))
		kinds := map[physics.LoadKind]bool{}
		for _, l := range p.Loads {
			kinds[l.Kind] = true
		}
		Expect(kinds).To(HaveLen(int(physics.RandomLoad) + 1))
		Expect(p.Arrays[2].OnDC).To(BeTrue())
		Expect(p.Inverters[p.Arrays[2].Inverter].Name).To(Equal("south"))
		Expect(p.Arrays[0].Limit.LimitW).To(Equal(10_000.0))
		Expect(p.Meters[p.Chargers[0].Surplus.Meter].Name).To(Equal("grid_meter"))
	})

	It("lays a load's measured profile on the local clock", func() {
		var points []physics.ProfilePoint
		for _, l := range plant().Loads {
			if l.Name == "cold_room" {
				points = l.Profile
			}
		}
		Expect(points).To(Equal([]physics.ProfilePoint{
			{AtMS: 0, PowerW: 400}, {AtMS: 1800_000, PowerW: 900}, {AtMS: 3600_000, PowerW: 400}, {AtMS: 5400_000, PowerW: 900}, {AtMS: 7200_000, PowerW: 400},
		}))
	})

	It("is a site by itself too, on a day that begins at midnight", func() {
		site, err := LoadSite("testdata/finer-site.yaml")
		Expect(err).NotTo(HaveOccurred())
		Expect(site.Plant.Inverters[0].Timed).To(HaveLen(2))
	})
})

var _ = Describe("a story of the supply", func() {
	It("reads into actions, and ends an outage by an event that is judged", func() {
		s, err := LoadScenario("testdata/finer-story.yaml")
		Expect(err).NotTo(HaveOccurred())
		var actions []physics.Action
		var judged []time.Duration
		for _, e := range s.Events {
			actions = append(actions, e.Action)
			if e.Disturbs {
				judged = append(judged, e.At)
			}
		}
		Expect(actions).To(Equal([]physics.Action{
			physics.SetGridVoltage{VoltageV: 253}, physics.SetGridFrequency{FrequencyHz: 50.4},
			physics.SetGridVoltage{VoltageV: 230}, physics.SetGridFrequency{FrequencyHz: 50},
			physics.Outage{}, physics.GridReturns{}, physics.Outage{}, physics.GridReturns{},
			physics.JumpSOC{By: 0.05}, physics.FieldClouds(), physics.BrokenClouds{},
		}))
		Expect(judged).To(Equal([]time.Duration{7 * time.Minute, 11 * time.Minute}))
		Expect(s.Events[9].Text).To(Equal("sky: broken_clouds: field clouds"))
	})

	It("has prices in the order of time, on the local clock", func() {
		s, err := LoadScenario("testdata/finer-story.yaml")
		Expect(err).NotTo(HaveOccurred())
		Expect(s.Prices).To(Equal([]PriceWindow{
			{Window{0, 30 * time.Minute}, 0.11}, {Window{30 * time.Minute, 2 * time.Hour}, -0.02},
		}))
		Expect(s.Cheap).To(Equal([]Window{{7 * time.Minute, 19 * time.Minute}, {43 * time.Minute, 51 * time.Minute}}))
	})
})

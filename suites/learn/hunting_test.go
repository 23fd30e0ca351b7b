package learn

import (
	"bytes"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/physics"
	"kilter/scenarios"
	"kilter/suites/fieldlog"
)

var update = flag.Bool("update", false, "rewrite testdata/learn/hunting.csv")

const huntingLog = "../../testdata/learn/hunting.csv"

// huntingSite is a cloudy afternoon on which two inverters hunt: each loop is stable alone.
func huntingSite() physics.Site {
	s := physics.Site{
		StepMS: 100, Seed: 9, Phases: 1,
		Supply:  physics.Supply{VoltageV: 230, FrequencyHz: 50},
		Feeders: []physics.Feeder{{Name: "supply", Parent: -1}},
	}
	for i, name := range []string{"north", "south"} {
		s.Meters = append(s.Meters, physics.MeterParams{Name: name + "_ct", RefreshS: 1, PhaseS: 0.3 + 0.4*float64(i), LatencyS: 0.2, OffsetW: 12 - 20*float64(i), NoiseW: 2, ResolutionW: 1})
		s.Inverters = append(s.Inverters, physics.InverterParams{
			Name: name, RatingW: 5000 - 1400*float64(i), Efficiency: 0.96, DeadTimeS: 0.5, LagS: 0.8 - 0.2*float64(i), RampUpWps: 900, RampDownWps: 900,
			Battery: physics.BatteryParams{
				CapacityWh: 8000, ChargeEfficiency: 0.97, DischargeEfficiency: 0.97, MaxChargeW: 5000, MaxDischargeW: 5300, InitialSOC: 0.55,
				ReserveSOC: 0.1, TaperAboveSOC: 0.95, TaperBelowSOC: 0.03,
			},
			Loop: physics.LoopParams{Meter: i, Gain: 0.56 - 0.04*float64(i), PeriodS: 1, PhaseS: 0.5 + 0.4*float64(i)},
		})
	}
	chance := rand.New(rand.NewPCG(9, 9))
	roof := []physics.ProfilePoint{{AtMS: 0, PowerW: -2600}}
	sun, t := true, int64(0)
	for t < 600_000 {
		t += int64(15_000 + 45_000*chance.Float64())
		from, to := -2600.0, -700-500*chance.Float64()
		if !sun {
			from, to = roof[len(roof)-1].PowerW, -2600
		}
		roof = append(roof, physics.ProfilePoint{AtMS: t, PowerW: from}, physics.ProfilePoint{AtMS: t + 3000 + int64(4000*chance.Float64()), PowerW: to})
		t += 7000
		sun = !sun
	}
	s.Loads = []physics.LoadParams{
		{Name: "base", Kind: physics.ConstantLoad, PowerW: 600, On: true},
		{Name: "roof", Kind: physics.ProfileLoad, On: true, Profile: roof},
	}
	return s
}

// huntingCSV is what a logger made of it: kW of the grid with export positive, watts of the inverters with discharge positive.
func huntingCSV() []byte {
	p, err := physics.New(huntingSite())
	Expect(err).NotTo(HaveOccurred())
	chance := rand.New(rand.NewPCG(1, 2))
	var b bytes.Buffer
	b.WriteString("Time;Grid (kW);Inverter North (W);Inverter South (W);PV (W);SOC North (%);SOC South (%)\n")
	at := time.Date(2026, 6, 18, 15, 10, 0, 0, time.UTC)
	for n := range 601 {
		fmt.Fprintf(&b, "%s;%.3f;%.0f;%.0f;%.0f;%.1f;%.1f\n", at.Add(time.Duration(n)*time.Second).Format("02.01.2006 15:04:05"),
			-math.Round(p.GridW+2*chance.NormFloat64())/1000, -p.Inverters[0].PowerW, -p.Inverters[1].PowerW, -p.Loads[1].PowerW,
			100*p.Inverters[0].Battery.SOC, 100*p.Inverters[1].Battery.SOC)
		for range 10 {
			p.Step()
		}
	}
	return b.Bytes()
}

var _ = Describe("a reported oscillation", Ordered, func() {
	var r *Result
	var p *Replay
	var folder string

	BeforeAll(func() {
		if *update {
			Expect(os.MkdirAll(filepath.Dir(huntingLog), 0o755)).To(Succeed())
			Expect(os.WriteFile(huntingLog, huntingCSV(), 0o644)).To(Succeed())
		}
		kept, err := os.ReadFile(huntingLog)
		Expect(err).NotTo(HaveOccurred())
		Expect(kept).To(Equal(huntingCSV()), "made by the bench: run with -update")
		t, err := fieldlog.ReadFile(huntingLog)
		Expect(err).NotTo(HaveOccurred())
		proposal, err := fieldlog.Propose(t)
		Expect(err).NotTo(HaveOccurred())
		m := proposal.Map
		Expect(m.Units).To(HaveLen(2))
		l, err := fieldlog.Apply(t, &m)
		Expect(err).NotTo(HaveOccurred())
		r, err = Learn(l, Options{})
		Expect(err).NotTo(HaveOccurred())
		folder = GinkgoT().TempDir()
		for name, text := range r.Files() {
			Expect(os.WriteFile(filepath.Join(folder, name), text, 0o644)).To(Succeed())
		}
		p, err = r.Replay(filepath.Join(folder, ScenarioFile))
		Expect(err).NotTo(HaveOccurred())
	})

	It("is found native, since the devices' own loops explain it", func() {
		Expect(r.Cause).To(Equal(Native))
		Expect(r.CauseText).To(ContainSubstring("no controller is needed"))
		for _, l := range r.Units {
			Expect(l.Native).To(BeNumerically(">", 0.95))
		}
	})

	It("tells the inverters' largest powers, at which the log never shows them standing", func() {
		for i, mostW := range []float64{5000, 3600} {
			b := boundsOf(r.Window.Record.GridW, r.Window.Record.Units[i].PowerW, 1)
			Expect(b.chargeW + b.dischargeW).To(BeZero())
			Expect(b.peakW).To(BeNumerically("<", mostW))
			l := r.Units[i]
			Expect(l.ChargeLimit.Identifiable).To(BeTrue())
			Expect(l.ChargeLimit.Value).To(BeNumerically("~", mostW, 0.15*mostW))
			Expect(l.DischargeLimit).To(Equal(l.ChargeLimit))
		}
	})

	It("is reproduced: period within 5 %, amplitude within 15 %", func() {
		Expect(p.Log.Oscillation.Found).To(BeTrue())
		Expect(p.Model.Oscillation.PeriodS).To(BeNumerically("~", p.Log.Oscillation.PeriodS, 0.05*p.Log.Oscillation.PeriodS))
		Expect(p.Model.Oscillation.AmplitudeW).To(BeNumerically("~", p.Log.Oscillation.AmplitudeW, 0.15*p.Log.Oscillation.AmplitudeW))
	})

	It("becomes a scenario that asks for what the complaint asks for", func() {
		sc, err := scenarios.LoadScenario(filepath.Join(folder, ScenarioFile))
		Expect(err).NotTo(HaveOccurred())
		Expect(sc.Must.Hunting).NotTo(BeNil())
		Expect(sc.Must.Hunting.BelowW).To(BeNumerically("<", p.Log.Oscillation.AmplitudeW))
	})

	It("is the same each time, byte for byte", func() {
		first := r.Files()
		l, err := Learn(r.Log, Options{})
		Expect(err).NotTo(HaveOccurred())
		Expect(l.Files()).To(Equal(first))
		var one, two bytes.Buffer
		Expect(r.Page(&one, p, nil)).To(Succeed())
		Expect(r.Page(&two, p, nil)).To(Succeed())
		Expect(one.Bytes()).To(Equal(two.Bytes()))
	})

	It("is told on a page that needs nothing else", func() {
		var page bytes.Buffer
		Expect(r.Page(&page, p, []string{"A caution."})).To(Succeed())
		text := page.String()
		Expect(text).To(ContainSubstring("The model reproduces the oscillation: period"))
		Expect(text).To(ContainSubstring("What to record to do better"))
		Expect(text).To(ContainSubstring("A caution."))
		Expect(text).NotTo(MatchRegexp(`(src|href)=|<script|url\(`))
	})
})

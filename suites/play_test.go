package suites_test

import (
	"crypto/sha256"
	"encoding/hex"
	"os"
	"path/filepath"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"github.com/parquet-go/parquet-go"

	"kilter/scenarios"
	"kilter/suites"
	"kilter/suites/verdict"
)

// found returns one criterion's line of a verdict.
func found(out *suites.Outcome, name string) verdict.Criterion {
	GinkgoHelper()
	for _, c := range out.Run.Criteria {
		if c.Name == name {
			return c
		}
	}
	Fail("no criterion " + name)
	return verdict.Criterion{}
}

var _ = Describe("playing left-alone without a controller", func() {
	It("fails circulating, with both inverters at a rating in opposite directions and grid flow near zero", func() {
		out := alone("left-alone")
		Expect(out.Run.Passed).To(BeFalse())
		c := found(out, "circulating")
		Expect(c.Status).To(Equal(verdict.Failed))
		margin, _ := c.Margin.Value()
		Expect(margin).To(BeNumerically("<", -3000))
		Expect(*c.Avoidable).To(BeTrue())
		for _, other := range out.Run.Criteria {
			if other.Name != "circulating" {
				Expect(other.Status).NotTo(Equal(verdict.Failed), other.Name)
			}
		}
		last := map[string]float64{}
		for _, col := range out.Trace.Columns {
			last[col.Name] = col.Values[len(col.Values)-1]
		}
		Expect(last["north_w"]).To(BeNumerically("~", -5000, 30))
		Expect(last["south_w"]).To(BeNumerically("~", 3600, 30))
		Expect(last["grid_w"]).To(BeNumerically("~", 0, 40))
	})

	It("drifts at the rate of the closed form", func() {
		// The bakery's gains are 0.25 and 0.2, its meters 20 W apart, both periods 1 s. Sampled in phase the drift
		// is k1 k2 (b1 - b2) / ((k1 + k2) Ts), 2.22 W/s. These two sample half a period apart: where each sees
		// the other's whole correction, the same sum gives k1 k2 (b1 - b2) / ((k1 + k2 - k1 k2) Ts), 2.5 W/s;
		// lag and latency leave them in between. Noise of 2 W a sample walks 0.03 W/s in 600 s.
		out := alone("left-alone")
		for _, col := range out.Trace.Columns {
			if col.Name == "north_w" {
				drift := (col.Values[1200] - col.Values[600]) / 600
				Expect(-drift).To(And(BeNumerically(">", 2.22-0.06), BeNumerically("<", 2.5+0.06)))
			}
		}
	})
})

var _ = Describe("a played scenario", func() {
	It("gives byte-identical traces, verdicts, pages and folders for equal runs", func() {
		read := func() map[string]string {
			folder := GinkgoT().TempDir()
			Expect(suites.WriteFolder(folder, alone("cloud-flicker"))).To(Succeed())
			files := map[string]string{}
			list, err := os.ReadDir(folder)
			Expect(err).NotTo(HaveOccurred())
			for _, f := range list {
				text, err := os.ReadFile(filepath.Join(folder, f.Name()))
				Expect(err).NotTo(HaveOccurred())
				files[f.Name()] = string(text)
			}
			return files
		}
		first := read()
		Expect(first).To(HaveKey("trace.parquet"))
		Expect(first).To(HaveLen(7))
		Expect(read()).To(Equal(first))
	})

	It("carries the hash of its trace, its audit, and where to see each finding", func() {
		out := alone("calm-start")
		hash := sha256.Sum256(out.Parquet)
		Expect(out.Run.TraceSHA256).To(Equal(hex.EncodeToString(hash[:])))
		worst, known := out.Run.Audit.WorstNodeW.Value()
		Expect(known).To(BeTrue())
		Expect(worst).To(BeNumerically("<", 1e-9))
		for _, c := range out.Run.Criteria {
			Expect(c.Columns).NotTo(BeEmpty(), c.Name)
			Expect(c.Formula).NotTo(BeEmpty(), c.Name)
		}
	})

	It("tells what each limit allows, and when a failure began", func() {
		out := alone("left-alone")
		Expect(found(out, "circulating").LimitText()).To(Equal("at most 120 W, except up to 30 s"))
		Expect(found(out, "hunting").LimitText()).To(Equal("at most 150 W, gone within 2 min"))
		first, known := found(out, "circulating").FirstS.Value()
		Expect(known).To(BeTrue())
		// 120 W at 2.2 to 2.5 W/s, both powers opposite from the start on.
		Expect(first).To(BeNumerically("<", 1200))
		Expect(found(alone("calm-start"), "settle").LimitText()).To(Equal("at most 60 s, to within 200 W"))
		Expect(found(alone("soc-jump"), "soc_spread").LimitText()).To(Equal("at most 5 %, from 80 min on"))
	})

	It("records the voltage of each conductor", func() {
		names := func(out *suites.Outcome) (list []string) {
			for _, c := range out.Trace.Columns {
				if c.Unit == "V" {
					list = append(list, c.Name)
				}
			}
			return list
		}
		Expect(names(alone("calm-start"))).To(Equal([]string{"voltage_l1_v", "voltage_l2_v", "voltage_l3_v"}))
	})

	It("plays again from its resolved scenario to the same trace", func() {
		folder := GinkgoT().TempDir()
		out := alone("left-alone")
		Expect(suites.WriteFolder(folder, out)).To(Succeed())
		again, err := scenarios.LoadScenario(filepath.Join(folder, "scenario.yaml"))
		Expect(err).NotTo(HaveOccurred())
		sc := *again
		sc.Name = out.Scenario.Name
		replay, err := suites.Play(GinkgoT().Context(), &sc, suites.Options{Controller: suites.Controller{Name: "none"}})
		Expect(err).NotTo(HaveOccurred())
		Expect(replay.Run.TraceSHA256).To(Equal(out.Run.TraceSHA256))
	})

	It("judges the settling after what the scenario declares, and after nothing else", func() {
		Expect(found(alone("calm-start"), "settle").Exercised).To(Equal(2), "the mixer starts and stops")
		Expect(found(alone("ev-start"), "settle").Exercised).To(Equal(2), "the van ramps up 3 s after its plug, and leaves")
		Expect(found(alone("solar-surge"), "settle").Exercised).To(BeNumerically(">=", 2), "both edges of the cloud")
		Expect(found(alone("oven-cycling"), "settle").Exercised).To(Equal(1), "the oven's switch, and not its thermostat")
		quiet := alone("calm-start", func(sc *scenarios.Scenario) {
			for i := range sc.Events {
				sc.Events[i].Disturbs = false
			}
		})
		Expect(found(quiet, "settle").Status).To(Equal(verdict.NotExercised))
	})

	It("differs for another seed", func() {
		other := alone("left-alone", func(sc *scenarios.Scenario) { *sc = *sc.WithSeed(99) })
		Expect(other.Run.TraceSHA256).NotTo(Equal(alone("left-alone").Run.TraceSHA256))
	})

	It("has a row a second from the start, whose extremes enclose it, and reads back from Parquet", func() {
		out := alone("ev-start")
		rows := int(out.Scenario.Lasts/time.Second) + 1
		Expect(out.Trace.TimesS).To(HaveLen(rows))
		for _, c := range out.Trace.Columns {
			Expect(c.Values).To(HaveLen(rows), c.Name)
			for i := range c.Min {
				Expect(c.Values[i]).To(And(BeNumerically(">=", c.Min[i]), BeNumerically("<=", c.Max[i])))
			}
		}
		path := filepath.Join(GinkgoT().TempDir(), "trace.parquet")
		Expect(suites.WriteWhole(path, out.Parquet)).To(Succeed())
		f, err := os.Open(path)
		Expect(err).NotTo(HaveOccurred())
		defer f.Close()
		info, err := f.Stat()
		Expect(err).NotTo(HaveOccurred())
		file, err := parquet.OpenFile(f, info.Size())
		Expect(err).NotTo(HaveOccurred())
		Expect(file.NumRows()).To(Equal(int64(rows)))
	})
})

var _ = Describe("the matcher Hold", func() {
	It("succeeds on what passed, and explains what failed with the command that reproduces it", func() {
		out := alone("left-alone")
		m := suites.Hold("circulating")
		ok, err := m.Match(out)
		Expect(err).NotTo(HaveOccurred())
		Expect(ok).To(BeFalse())
		Expect(m.FailureMessage(out)).To(And(
			ContainSubstring("circulating failed"), ContainSubstring("kW"),
			ContainSubstring("reproduce  kilter check left-alone --policy none")))
		Expect(out).To(suites.Hold("hunting"))
	})

	It("is an error on a criterion that is not stated, or on what is no outcome", func() {
		_, err := suites.Hold("tidiness").Match(alone("left-alone"))
		Expect(err).To(MatchError(`the scenario left-alone states no criterion "tidiness"`))
		_, err = suites.Hold("import").Match("yes")
		Expect(err).To(MatchError(ContainSubstring("found string")))
	})
})

package trace_test

import (
	"bytes"
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator/trace"
	"kilter/physics"
	"kilter/scenarios"
)

// plantOf makes the plant of a built-in story.
func plantOf(name string) (*scenarios.Scenario, *physics.Plant) {
	GinkgoHelper()
	sc, err := scenarios.Find(name)
	Expect(err).NotTo(HaveOccurred())
	site := sc.Site.Plant
	site.StepMS, site.Seed, site.Sky.StartUnixS = sc.Step.Milliseconds(), sc.Seed, sc.Starts.Unix()
	p, err := physics.New(site)
	Expect(err).NotTo(HaveOccurred())
	return sc, p
}

// played runs a built-in story without a controller for so many ticks.
func played(name string, ticks int) (*trace.Recorder, *physics.Plant) {
	GinkgoHelper()
	sc, p := plantOf(name)
	r := trace.New(sc, p)
	for range ticks {
		p.Step()
		r.Step(p)
	}
	return r, p
}

var _ = Describe("the trace", func() {
	It("reads what it wrote", func() {
		r, _ := played("left-alone", 600)
		var file bytes.Buffer
		Expect(r.PackInto(&file)()).To(Succeed())
		back, err := trace.Read(bytes.NewReader(file.Bytes()), int64(file.Len()))
		Expect(err).NotTo(HaveOccurred())
		Expect(back.TimesS).To(Equal(r.TimesS))
		Expect(back.Names()).To(HaveLen(len(r.Columns)))
		for _, c := range r.Columns {
			values, low, high := back.Column(c.Name)
			Expect(values).To(Equal(c.Values), c.Name)
			Expect(low).To(Equal(c.Min), c.Name)
			Expect(high).To(Equal(c.Max), c.Name)
		}
	})

	It("packs the same bytes while it is recorded as after", func() {
		const ticks = 90_000 // more rows than are packed at once
		sc, p := plantOf("left-alone")
		sc.Lasts = ticks * sc.Step
		r := trace.New(sc, p)
		var during, after bytes.Buffer
		finish := r.PackInto(&during)
		for range ticks {
			p.Step()
			r.Step(p)
		}
		Expect(finish()).To(Succeed())
		Expect(r.PackInto(&after)()).To(Succeed())
		Expect(bytes.Equal(during.Bytes(), after.Bytes())).To(BeTrue(), "%d and %d bytes", during.Len(), after.Len())
	})

	It("records a step without allocating", func() {
		r, p := played("left-alone", 100)
		Expect(testing.AllocsPerRun(100, func() {
			p.Step()
			r.Step(p)
		})).To(BeZero())
	})

	It("refuses what is no trace", func() {
		_, err := trace.Read(bytes.NewReader([]byte("no parquet")), 10)
		Expect(err).To(MatchError(HavePrefix("trace: ")))
	})

	It("tells in a word what an inverter is in", func() {
		r, p := played("left-alone", 10)
		mode := func() string {
			for _, c := range r.Columns {
				if c.Name == "north_mode" {
					return c.Words[int(c.Values[len(c.Values)-1])]
				}
			}
			return "no column north_mode"
		}
		Expect(mode()).To(Equal("self-consumption"))
		step := func() {
			for range 10 {
				p.Step()
				r.Step(p)
			}
		}
		p.SetMode(0, physics.Hold)
		step()
		Expect(mode()).To(Equal("hold"))
		p.Apply(physics.Trip{Inverter: 0, LastsS: 100})
		step()
		Expect(mode()).To(Equal("tripped"))
	})
})

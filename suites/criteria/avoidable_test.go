package criteria_test

import (
	"math"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"

	"kilter/suites/criteria"
)

var _ = Describe("Avoidable import and export", func() {
	limit := criteria.AvoidableEnergy{BelowWh: 10}

	judge := func(make func(criteria.AvoidableEnergy, time.Duration) (criteria.Monitor, error), load, battery float64, edit func(*criteria.Sample)) criteria.Result {
		c := calmSite()
		c.load, c.north, c.edit = constant(load), constant(battery), edit
		m := must(make(limit, step))
		c.run(time.Minute, m)
		r := m.Result()
		expectSound(r)
		return r
	}

	It("passes batteries that cover the load", func() {
		r := judge(criteria.NewAvoidableImport, 1000, -1000, nil)
		Expect(r.Status).To(Equal(criteria.Passed))
		Expect(r.Margin).To(Equal(10.0))
		Expect(r.Exercised).To(Equal(600))
	})

	It("fails batteries that rest, and says when the allowance was used up", func() {
		r := judge(criteria.NewAvoidableImport, 1200, 0, nil)
		Expect(r.Status).To(Equal(criteria.Failed))
		Expect(r.Observed).To(BeNumerically("~", 20, 1e-9)) // 1200 W for a minute
		Expect(r.FirstBreachS).To(BeNumerically("~", 30.1, 1e-9))
		Expect(r.Detail).To(Equal("20.0 Wh of 20.0 Wh could have been avoided, most at 0:00:00.1: 1200 W"))
	})

	It("counts import that only charging makes", func() {
		Expect(judge(criteria.NewAvoidableImport, 0, 1200, nil).Status).To(Equal(criteria.Failed))
	})

	It("leaves alone what the batteries could not cover, and what is wanted", func() {
		r := judge(criteria.NewAvoidableImport, 9000, -7200, nil)
		Expect(r.Margin).To(Equal(10.0))
		r = judge(criteria.NewAvoidableImport, 1200, 0, func(s *criteria.Sample) { s.ImportWanted = true })
		Expect(r.Status).To(Equal(criteria.NotExercised))
		Expect(figure(r, "flowed")).To(BeNumerically("~", 20, 1e-9))
		r = judge(criteria.NewAvoidableImport, 1200, 0, func(s *criteria.Sample) {
			s.Inverters[0].DischargeRoomW, s.Inverters[1].DischargeRoomW = 0, 0
		})
		Expect(r.Status).To(Equal(criteria.NotExercised))
	})

	It("mirrors import for export", func() {
		r := judge(criteria.NewAvoidableExport, -1200, 0, nil)
		Expect(r.Status).To(Equal(criteria.Failed))
		Expect(r.Observed).To(BeNumerically("~", 20, 1e-9))
		r = judge(criteria.NewAvoidableExport, -1200, 1200, nil)
		Expect(r.Status).To(Equal(criteria.Passed))
		r = judge(criteria.NewAvoidableExport, -1200, 0, func(s *criteria.Sample) { s.ExportWanted = true })
		Expect(r.Status).To(Equal(criteria.NotExercised))
	})

	It("agrees with the definition evaluated offline on random traces", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			trace := drawTrace(t)
			direction := rapid.SampledFrom([]float64{1, -1}).Draw(t, "direction")
			make := criteria.NewAvoidableImport
			if direction < 0 {
				make = criteria.NewAvoidableExport
			}
			p := criteria.AvoidableEnergy{BelowWh: rapid.Float64Range(0, 2).Draw(t, "below")}
			for i := range trace {
				trace[i].ImportWanted = rapid.IntRange(0, 5).Draw(t, "wanted") == 0
			}
			r := feed(must(make(p, step)), trace)
			var energy, spent float64
			exercised := 0
			for _, s := range trace {
				if direction > 0 && s.ImportWanted {
					continue
				}
				raise, lower := rooms(s)
				if direction < 0 {
					raise, lower = lower, raise
				}
				flow, rest := direction*s.GridW, direction*s.NetLoadW
				// What the batteries at their best leave over in this direction.
				left := max(0, rest-lower)
				excess := max(0, flow-left)
				energy += excess * 0.1 / 3600
				if excess > 0 || rest > left {
					exercised++
				}
				if spent == 0 && energy > p.BelowWh+1e-9 {
					spent = float64(s.Tick) * 0.1
				}
			}
			if math.Abs(r.Observed-energy) > 1e-9 || r.FirstBreachS != spent && math.Abs(r.FirstBreachS-spent) > 1e-9 {
				t.Fatalf("got %+v, want %v Wh, spent at %v", r, energy, spent)
			}
			if r.Status != criteria.Failed && r.Exercised != exercised {
				t.Fatalf("got %d exercised, want %d", r.Exercised, exercised)
			}
		})
	})
})

package criteria_test

import (
	"encoding/json"
	"math"
	"testing"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"

	"kilter/suites/criteria"
)

var _ = Describe("Every monitor", func() {
	It("allocates nothing while it observes", func() {
		for _, busy := range []bool{false, true} {
			observe := observer(busy)
			Expect(testing.AllocsPerRun(20000, observe)).To(BeZero())
		}
	})

	It("answers at any time without being changed by it", func() {
		c := stepAnswer(step, func(t float64) float64 { return secondOrder(0.2, 1, t) })
		asked, left := all(step), all(step)
		c.run(time.Minute, asked...)
		for _, m := range asked {
			m.Result()
		}
		c.run(time.Minute, left...)
		for i := range asked {
			Expect(asked[i].Result()).To(Equal(left[i].Result()))
			expectSound(asked[i].Result())
		}
	})

	It("gives finite numbers whatever it is fed, and blames the bench", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			odd := rapid.OneOf(
				rapid.Float64(), rapid.Float64Range(-5000, 5000), rapid.Float64Range(-5000, 5000),
				rapid.SampledFrom([]float64{math.NaN(), math.Inf(1), math.Inf(-1), math.MaxFloat64, -math.MaxFloat64}))
			monitors := all(step)
			n := rapid.IntRange(0, 40).Draw(t, "length")
			for i := range n {
				s := criteria.Sample{
					Tick: int64(i), StepS: 0.1, GridW: odd.Draw(t, "grid"), NetLoadW: odd.Draw(t, "load"),
					Disturbed: rapid.Bool().Draw(t, "disturbed"),
				}
				for range rapid.IntRange(0, 3).Draw(t, "inverters") {
					s.Inverters = append(s.Inverters, criteria.InverterSample{
						BatteryW: odd.Draw(t, "battery"), SOC: odd.Draw(t, "soc"),
						ChargeRoomW: odd.Draw(t, "charge"), DischargeRoomW: odd.Draw(t, "discharge"),
					})
				}
				for _, m := range monitors {
					m.Observe(&s)
					if s.GridW != s.GridW && m.Name() != "circulating" && m.Name() != "soc_spread" &&
						m.Result().Status != criteria.Undetermined {
						t.Fatalf("%s takes a flow that is not a number: %+v", m.Name(), m.Result())
					}
				}
			}
			for _, m := range monitors {
				if _, err := json.Marshal(m.Result()); err != nil {
					t.Fatalf("%s: %v", m.Name(), err)
				}
			}
		})
	})

	It("has a name of its own, which its result repeats", func() {
		seen := map[string]bool{}
		for _, m := range all(step) {
			Expect(m.Name()).To(Equal(m.Result().Name))
			Expect(seen).NotTo(HaveKey(m.Name()))
			seen[m.Name()] = true
		}
	})
})

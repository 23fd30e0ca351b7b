package criteria_test

import (
	"encoding/json"
	"math"
	"slices"
	"testing"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"

	"kilter/suites/criteria"
)

// ofGridFlow are the criteria that look at the flow at the inlet in each sample.
var ofGridFlow = []string{"import", "export", "settle", "hunting", "avoidable_import", "avoidable_export", "recovery"}

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
				for range rapid.IntRange(0, 4).Draw(t, "phases") {
					s.Phases = append(s.Phases, criteria.PhaseSample{CurrentA: odd.Draw(t, "current"), MostA: odd.Draw(t, "most")})
				}
				for range rapid.IntRange(len(spoken)-1, len(spoken)).Draw(t, "signals") {
					s.Signals = append(s.Signals, odd.Draw(t, "signal"))
				}
				if rapid.Bool().Draw(t, "wire") {
					s.Wire = append(s.Wire, criteria.WireSample{Device: rapid.IntRange(-1, 7).Draw(t, "device"), Reads: rapid.IntRange(-1, 9).Draw(t, "reads")})
					s.Writes = append(s.Writes, criteria.WriteSample{Device: rapid.IntRange(-1, 7).Draw(t, "device"), Register: 65535, Count: 9})
					s.Commands = append(s.Commands, criteria.CommandSample{
						Inverter: rapid.IntRange(-1, 4).Draw(t, "inverter"), Limit: criteria.ChargeLimited, LastsS: odd.Draw(t, "lasts"),
					})
				}
				s.Controller = criteria.ControllerState(rapid.IntRange(0, 3).Draw(t, "controller"))
				for j := range s.Inverters {
					s.Inverters[j].CapacityWh, s.Inverters[j].Reserve = odd.Draw(t, "capacity"), odd.Draw(t, "reserve")
					s.Inverters[j].Limits = criteria.LimitSet(rapid.Byte().Draw(t, "limits"))
				}
				for _, m := range monitors {
					m.Observe(&s)
					if s.GridW != s.GridW && slices.Contains(ofGridFlow, m.Name()) &&
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

	It("leaves alone what a judge does not know: no new criterion is exercised by its absence", func() {
		needs := map[string]criteria.Status{}
		monitors := all(step)
		c := stepAnswer(step, func(t float64) float64 { return secondOrder(0.2, 1, t) })
		c.run(5*time.Minute, monitors...)
		for _, m := range monitors {
			expectSound(m.Result())
			needs[m.Name()] = m.Result().Status
		}
		for _, name := range []string{"reserve", "supply_current", "fuse_heating", "schedule", "command_economy", "wire_manners", "fail_safe", "recovery", "reversion"} {
			Expect(needs).To(HaveKeyWithValue(name, criteria.NotExercised))
		}
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

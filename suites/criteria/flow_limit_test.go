package criteria_test

import (
	"math"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"

	"kilter/suites/criteria"
)

var _ = Describe("Import and export limits", func() {
	// excess lets the batteries charge 3 kW above a 2 kW load for d, from 10 s on.
	excess := func(d float64) site {
		c := calmSite()
		c.load = constant(2000)
		c.north = func(t float64) float64 {
			if t > 10.05 && t < 10.05+d {
				return 3000
			}
			return -500
		}
		return c
	}
	limit := criteria.FlowLimit{BelowW: 4000, Except: 2 * time.Second}

	It("tolerates an excess of exactly the excepted time", func() {
		m := must(criteria.NewImport(limit, step))
		excess(2).run(time.Minute, m)
		r := m.Result()
		expectSound(r)
		Expect(r.Status).To(Equal(criteria.Passed))
		Expect(r.Margin).To(Equal(2500.0))
	})

	It("condemns an excess that lasts one step longer, and says when", func() {
		m := must(criteria.NewImport(limit, step))
		excess(2.1).run(time.Minute, m)
		r := m.Result()
		expectSound(r)
		Expect(r.Status).To(Equal(criteria.Failed))
		Expect(r.Margin).To(Equal(-1000.0))
		Expect(r.Observed).To(Equal(5000.0))
		Expect(r.Limit).To(Equal(4000.0))
		Expect(r.AtS).To(BeNumerically("~", 10.1, 1e-9))
		Expect(r.FirstBreachS).To(BeNumerically("~", 10.1, 1e-9))
		Expect(r.Avoidable).To(BeTrue())
	})

	It("forgives import that no discharge could have covered", func() {
		c := calmSite()
		c.roomW = 1000
		c.load = constant(9000)
		c.north, c.south = constant(-1000), constant(-1000)
		m := must(criteria.NewImport(limit, step))
		c.run(time.Minute, m)
		r := m.Result()
		expectSound(r)
		Expect(r.Status).To(Equal(criteria.Passed))
		Expect(r.Margin).To(BeZero())
		Expect(r.Limit).To(Equal(7000.0))
		Expect(r.Detail).To(Equal("for 60.0 s no controller could have kept 4000 W"))
	})

	It("takes a margin within rounding of zero for zero", func() {
		c := calmSite()
		c.roomW = 500.1
		c.load = constant(9000.3)
		c.north, c.south = constant(-500.1), constant(-500.1)
		c.edit = func(s *criteria.Sample) { s.GridW += 1e-9 }
		m := must(criteria.NewImport(limit, step))
		c.run(time.Minute, m)
		Expect(m.Result().Status).To(Equal(criteria.Passed))
		Expect(m.Result().Margin).To(BeZero())
	})

	It("does not forgive batteries that rest while the load is above the limit", func() {
		c := calmSite()
		c.roomW = 1000
		c.load = constant(9000)
		m := must(criteria.NewImport(limit, step))
		c.run(time.Minute, m)
		Expect(m.Result().Status).To(Equal(criteria.Failed))
		Expect(m.Result().Margin).To(Equal(-2000.0))
	})

	It("is not exercised when even full charging stays under the limit", func() {
		c := calmSite()
		m := must(criteria.NewImport(criteria.FlowLimit{BelowW: 18000}, step))
		c.run(time.Minute, m)
		r := m.Result()
		expectSound(r)
		Expect(r.Status).To(Equal(criteria.NotExercised))
		Expect(r.Margin).To(Equal(18000.0))
	})

	It("is not exercised by a load above the limit when the batteries have no room", func() {
		c := calmSite()
		c.roomW = 0
		c.load = constant(9000)
		m := must(criteria.NewImport(limit, step))
		c.run(time.Minute, m)
		Expect(m.Result().Status).To(Equal(criteria.NotExercised))
	})

	It("has not violated a window that is longer than the run", func() {
		c := calmSite()
		c.north = constant(3600)
		c.load = constant(5000)
		m := must(criteria.NewImport(criteria.FlowLimit{BelowW: 4000, Except: 10 * time.Second}, step))
		c.run(10*time.Second, m)
		r := m.Result()
		expectSound(r)
		Expect(r.Status).To(Equal(criteria.NotExercised))
		Expect(r.Valid).To(BeFalse())
	})

	It("bounds the excess energy of the run as a clause of its own", func() {
		allowance := 0.5
		m := must(criteria.NewImport(criteria.FlowLimit{BelowW: 4000, Except: 5 * time.Second, EnergyWh: &allowance}, step))
		excess(3).run(time.Minute, m)
		r := m.Result()
		expectSound(r)
		Expect(r.Status).To(Equal(criteria.Failed))
		Expect(r.Unit).To(Equal("Wh"))
		Expect(r.Observed).To(BeNumerically("~", 1000*3/3600.0, 1e-9)) // by hand
		Expect(r.AtS).To(BeNumerically("~", 10+1.9, 1e-9))             // 0.5 Wh at 1 kW last 1.8 s
		Expect(r.Clauses[0].Status).To(Equal(criteria.Passed))
		Expect(r.Clauses[1].Status).To(Equal(criteria.Failed))
	})

	It("mirrors import for export", func() {
		c := calmSite()
		c.load = constant(-6000)
		m := must(criteria.NewExport(criteria.FlowLimit{BelowW: 4000, Except: 0}, step))
		c.run(time.Minute, m)
		r := m.Result()
		expectSound(r)
		Expect(r.Status).To(Equal(criteria.Failed))
		Expect(r.Margin).To(Equal(-2000.0))
		Expect(r.Observed).To(Equal(6000.0))
	})

	It("blames the bench for unsound samples", func() {
		for _, spoil := range []func(*criteria.Sample){
			func(s *criteria.Sample) { s.GridW = math.NaN() },
			func(s *criteria.Sample) { s.Inverters[1].DischargeRoomW = math.NaN() },
			func(s *criteria.Sample) { s.Tick++ },
			func(s *criteria.Sample) { s.StepS = 0.2 },
		} {
			c := excess(5)
			c.edit = func(s *criteria.Sample) {
				if s.Tick == 50 {
					spoil(s)
				}
				s.StepS = min(s.StepS, 0.2)
			}
			m := must(criteria.NewImport(limit, step))
			c.run(time.Minute, m)
			r := m.Result()
			expectSound(r)
			Expect(r.Status).To(Equal(criteria.Undetermined))
			Expect(r.Detail).To(ContainSubstring("bench fault"))
		}
	})

	It("refuses parameters without meaning, and names them", func() {
		minus := -1.0
		for text, p := range map[string]criteria.FlowLimit{
			"import: below is NaN, but must be a finite number of at least zero": {BelowW: math.NaN()},
			"import: except is -1s, but must lie between 0s and 1h0m0s":          {Except: -time.Second},
			"import: energy is -1, but must be a finite number of at least zero": {EnergyWh: &minus},
		} {
			_, err := criteria.NewImport(p, step)
			Expect(err).To(MatchError(text))
		}
		_, err := criteria.NewExport(criteria.FlowLimit{}, 0)
		Expect(err).To(MatchError("step is 0s, but must be above zero"))
	})

	It("agrees with the definition evaluated offline on random traces", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			trace := drawTrace(t)
			k := rapid.IntRange(1, 12).Draw(t, "window")
			limit := 100 * float64(rapid.IntRange(0, 30).Draw(t, "limit"))
			direction := rapid.SampledFrom([]float64{1, -1}).Draw(t, "direction")
			p := criteria.FlowLimit{BelowW: limit, Except: time.Duration(k-1) * step}
			m := must(criteria.NewImport(p, step))
			if direction < 0 {
				m = must(criteria.NewExport(p, step))
			}
			r := feed(m, trace)

			var excess, violable []float64
			var energy float64
			for _, s := range trace {
				raise, lower := rooms(s)
				if direction < 0 {
					raise, lower = lower, raise
				}
				bound := max(limit, direction*s.NetLoadW-lower)
				e := direction*s.GridW - bound
				excess = append(excess, e)
				energy += max(0, e) * 0.1 / 3600
				if max(direction*s.GridW, direction*s.NetLoadW+raise) > bound {
					violable = append(violable, 1)
				} else {
					violable = append(violable, 0)
				}
			}
			worst, start, ok := largestWindowMin(excess, k)
			exercised := 0
			for i := 0; i+k <= len(violable); i++ {
				if least, _, _ := largestWindowMin(violable[i:i+k], k); least == 1 {
					exercised++
				}
			}
			want := criteria.NotExercised
			switch {
			case ok && worst > 0:
				want = criteria.Failed
			case exercised > 0:
				want = criteria.Passed
			}
			if r.Status != want || r.Exercised != exercised || r.Valid != ok {
				t.Fatalf("got %+v, want %s with %d exercised", r, want, exercised)
			}
			if ok && (r.Margin != -worst || math.Abs(r.AtS-float64(start+1)*0.1) > 1e-9) {
				t.Fatalf("got margin %v at %v s, want %v at sample %d", r.Margin, r.AtS, -worst, start+1)
			}
			if math.Abs(figure(r, "excess_energy")-energy) > 1e-9 {
				t.Fatalf("got %v Wh, want %v", figure(r, "excess_energy"), energy)
			}
		})
	})
})

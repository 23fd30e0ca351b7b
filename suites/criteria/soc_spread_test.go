package criteria_test

import (
	"math"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"

	"kilter/suites/criteria"
)

var _ = Describe("Spread of the states of charge", func() {
	p := criteria.SOCSpread{Below: 0.08, From: time.Minute}

	It("says which battery is ahead, and since when", func() {
		named := p
		named.Names = []string{"north", "south"}
		c := calmSite()
		c.edit = func(s *criteria.Sample) {
			t := float64(s.Tick) * s.StepS
			s.Inverters[0].SOC = 0.5 + 0.00021*t // 4 % ahead from 190.5 s on
		}
		m := must(criteria.NewSOCSpread(named, step))
		c.run(5*time.Minute, m)
		Expect(m.Result().Detail).To(Equal("north is 6.3 % fuller than south, by more than 4 % since 0:03:10.5"))
		m = must(criteria.NewSOCSpread(p, step))
		c.run(100*time.Second, m)
		Expect(m.Result().Detail).To(Equal("battery 1 is 2.1 % fuller than battery 2"))
	})

	It("passes by percentage points, and ignores what lies before its start", func() {
		c := calmSite()
		c.edit = func(s *criteria.Sample) {
			s.Inverters[0].SOC, s.Inverters[1].SOC = 0.5, 0.45
			if float64(s.Tick)*s.StepS < 59.95 {
				s.Inverters[1].SOC = 0.1
			}
		}
		m := must(criteria.NewSOCSpread(p, step))
		c.run(2*time.Minute, m)
		r := m.Result()
		expectSound(r)
		Expect(r.Status).To(Equal(criteria.Passed))
		Expect(r.Exercised).To(Equal(601))
		Expect(r.Margin).To(BeNumerically("~", 3, 1e-9))
		Expect(r.Unit).To(Equal("%"))
	})

	It("fails by how much, and says when first and when worst", func() {
		c := calmSite()
		c.edit = func(s *criteria.Sample) {
			t := float64(s.Tick) * s.StepS
			s.Inverters[1].SOC = 0.5 - 0.001*(100-math.Abs(t-150))
		}
		m := must(criteria.NewSOCSpread(p, step))
		c.run(5*time.Minute, m)
		r := m.Result()
		expectSound(r)
		Expect(r.Status).To(Equal(criteria.Failed))
		Expect(r.Margin).To(BeNumerically("~", -2, 1e-9))
		Expect(r.AtS).To(BeNumerically("~", 150, 1e-9))
		Expect(r.FirstBreachS).To(BeNumerically("~", 130.1, 1e-9))
	})

	It("is not exercised by one battery, nor by a run that ends before it starts", func() {
		m := must(criteria.NewSOCSpread(criteria.SOCSpread{Below: 0.08}, step))
		r := feed(m, []criteria.Sample{{Tick: 1, StepS: 0.1, Inverters: []criteria.InverterSample{{SOC: 0.3}}}})
		expectSound(r)
		Expect(r.Status).To(Equal(criteria.NotExercised))

		m = must(criteria.NewSOCSpread(p, step))
		calmSite().run(30*time.Second, m)
		Expect(m.Result().Status).To(Equal(criteria.NotExercised))
	})

	It("refuses a bound that is no fraction", func() {
		_, err := criteria.NewSOCSpread(criteria.SOCSpread{Below: 8}, step)
		Expect(err).To(MatchError("soc_spread: below is 8, but must be a fraction above 0 and at most 1"))
	})

	It("agrees with the definition evaluated offline on random traces", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			trace := drawTrace(t)
			from := rapid.IntRange(0, 40).Draw(t, "from")
			r := feed(must(criteria.NewSOCSpread(criteria.SOCSpread{Below: 0.6, From: time.Duration(from) * step}, step)), trace)
			worst, ok := 0.0, false
			for _, s := range trace {
				for _, a := range s.Inverters {
					for _, b := range s.Inverters {
						if s.Tick >= int64(from) {
							worst = max(worst, 100*(a.SOC-b.SOC))
							ok = len(s.Inverters) > 1
						}
					}
				}
			}
			if r.Valid != ok || (ok && math.Abs(r.Margin-(60-worst)) > 1e-9) || (ok && r.Passed != (worst <= 60)) {
				t.Fatalf("got %+v, want a spread of %v", r, worst)
			}
		})
	})
})

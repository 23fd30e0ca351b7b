package criteria_test

import (
	"math"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"

	"kilter/suites/criteria"
)

var _ = Describe("Circulating power", func() {
	p := criteria.Circulating{BelowW: 120, Except: 30 * time.Second}

	// feeding has north discharge into south with w(t) watts.
	feeding := func(w func(t float64) float64) site {
		c := calmSite()
		c.load = constant(1000)
		c.north = func(t float64) float64 { return -1000 - w(t) }
		c.south = func(t float64) float64 { return w(t) }
		return c
	}

	It("passes batteries that work side by side", func() {
		c := calmSite()
		c.north, c.south = constant(-700), constant(-300)
		m := must(criteria.NewCirculating(p, step))
		c.run(10*time.Minute, m)
		r := m.Result()
		expectSound(r)
		Expect(r.Status).To(Equal(criteria.Passed))
		Expect(r.Margin).To(Equal(120.0))
		Expect(figure(r, "energy")).To(BeZero())
	})

	It("fails drift at the rate that two integrators with meter offsets show, and says from when", func() {
		// 3 W/s for k = 0.3 each, 20 W and 1 s: k (b1 - b2) / (2 Ts).
		m := must(criteria.NewCirculating(p, step))
		feeding(func(t float64) float64 { return 3 * t }).run(10*time.Minute, m)
		r := m.Result()
		expectSound(r)
		Expect(r.Status).To(Equal(criteria.Failed))
		Expect(r.FirstBreachS).To(BeNumerically("~", 40.1, 1e-6)) // 3 W/s pass 120 W at 40 s
		Expect(r.Observed).To(BeNumerically("~", 3*570, 1e-6))
		Expect(r.AtS).To(BeNumerically("~", 570, 1e-6))
		Expect(figure(r, "energy")).To(BeNumerically("~", 3*600*600/2.0/3600, 0.1))
		Expect(figure(r, "longest_episode")).To(BeNumerically("~", 600-120.0/3, 0.2))
	})

	It("tolerates a burst within the excepted time", func() {
		m := must(criteria.NewCirculating(p, step))
		feeding(func(t float64) float64 {
			if math.Mod(t, 60) < 29.95 {
				return 500
			}
			return 0
		}).run(10*time.Minute, m)
		r := m.Result()
		Expect(r.Status).To(Equal(criteria.Passed))
		Expect(r.Margin).To(Equal(120.0))
	})

	It("merges episodes across gaps of 30 s and no more", func() {
		on := func(gap float64) func(t float64) float64 {
			return func(t float64) float64 {
				if (t > 20.05 && t < 30.05) || (t > 30.05+gap && t < 50.05+gap) {
					return 130
				}
				return 0
			}
		}
		m := must(criteria.NewCirculating(p, step))
		feeding(on(30)).run(5*time.Minute, m)
		Expect(figure(m.Result(), "episodes")).To(Equal(1.0))
		Expect(figure(m.Result(), "longest_episode")).To(BeNumerically("~", 60, 1e-9))
		Expect(m.Result().Detail).To(HaveSuffix("1 episode above 120 W, it lasted 0:01:00 from 0:00:20.1 on"))

		m = must(criteria.NewCirculating(p, step))
		feeding(on(30.1)).run(5*time.Minute, m)
		Expect(figure(m.Result(), "episodes")).To(Equal(2.0))
		Expect(figure(m.Result(), "longest_episode")).To(BeNumerically("~", 20, 1e-9))
		Expect(m.Result().Detail).To(ContainSubstring("2 episodes above 120 W, the longest lasted 0:00:20 from "))
	})

	It("looks at battery power and not at PV that one inverter passes to the other", func() {
		c := feeding(constant(800))
		c.edit = func(s *criteria.Sample) { s.Inverters[0].BatteryW = 0 }
		m := must(criteria.NewCirculating(p, step))
		c.run(5*time.Minute, m)
		Expect(m.Result().Status).To(Equal(criteria.Passed))
	})

	It("is not exercised by one battery, nor by two of which none can give", func() {
		c := calmSite()
		c.edit = func(s *criteria.Sample) { s.Inverters = s.Inverters[:1] }
		m := must(criteria.NewCirculating(p, step))
		s := criteria.Sample{StepS: 0.1, Inverters: make([]criteria.InverterSample, 1)}
		for s.Tick = 1; s.Tick < 1000; s.Tick++ {
			s.Inverters[0] = criteria.InverterSample{BatteryW: -500, ChargeRoomW: 3600, DischargeRoomW: 3600}
			m.Observe(&s)
		}
		Expect(m.Result().Status).To(Equal(criteria.NotExercised))

		c = calmSite()
		c.edit = func(s *criteria.Sample) { s.Inverters[0].DischargeRoomW, s.Inverters[1].DischargeRoomW = 0, 0 }
		m = must(criteria.NewCirculating(p, step))
		c.run(5*time.Minute, m)
		r := m.Result()
		expectSound(r)
		Expect(r.Status).To(Equal(criteria.NotExercised))
	})

	It("agrees with the definition evaluated offline on random traces", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			trace := drawTrace(t)
			k := rapid.IntRange(1, 12).Draw(t, "window")
			below := 100 * float64(rapid.IntRange(0, 20).Draw(t, "below"))
			r := feed(must(criteria.NewCirculating(criteria.Circulating{BelowW: below, Except: time.Duration(k-1) * step}, step)), trace)

			var q, violable []float64
			var energy float64
			for _, s := range trace {
				var give, take, room float64
				for i, a := range s.Inverters {
					give, take = give+max(0, -a.BatteryW), take+max(0, a.BatteryW)
					for j, b := range s.Inverters {
						if i != j {
							room = max(room, min(a.DischargeRoomW, b.ChargeRoomW))
						}
					}
				}
				c := min(give, take)
				q = append(q, c)
				energy += c * 0.1 / 3600
				if max(c, room) > below {
					violable = append(violable, 1)
				} else {
					violable = append(violable, 0)
				}
			}
			exercised := 0
			for i := 0; i+k <= len(q); i++ {
				if least, _, _ := largestWindowMin(violable[i:i+k], k); least == 1 {
					exercised++
				}
			}
			worst, start, ok := largestWindowMin(q, k)
			want := criteria.NotExercised
			switch {
			case ok && worst > below:
				want = criteria.Failed
			case exercised > 0:
				want = criteria.Passed
			}
			if r.Status != want || r.Exercised != exercised || r.Valid != ok {
				t.Fatalf("got %+v, want %s with %d exercised", r, want, exercised)
			}
			if ok && (r.Margin != below-worst || math.Abs(r.AtS-float64(start+1)*0.1) > 1e-9) {
				t.Fatalf("got margin %v at %v s, want %v at sample %d", r.Margin, r.AtS, below-worst, start+1)
			}
			if math.Abs(figure(r, "energy")-energy) > 1e-9 {
				t.Fatalf("got %v Wh, want %v", figure(r, "energy"), energy)
			}
		})
	})
})

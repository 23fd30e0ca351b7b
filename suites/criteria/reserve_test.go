package criteria_test

import (
	"math"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"

	"kilter/suites/criteria"
)

var bothNames = []string{"north", "south"}

var _ = Describe("Reserve", func() {
	p := criteria.Reserve{Below: 0.01, Except: 5 * time.Second, Names: bothNames}

	// judge has south at the given state of charge, with a reserve of 20 %.
	judge := func(soc func(t float64) float64, south func(t float64) float64, edit func(s *criteria.Sample)) criteria.Result {
		c := calmSite()
		c.load, c.south = constant(1000), south
		c.edit = func(s *criteria.Sample) {
			s.Inverters[1].SOC = soc(float64(s.Tick) * 0.1)
			s.Inverters[1].Reserve = 0.2
			if edit != nil {
				edit(s)
			}
		}
		m := must(criteria.NewReserve(p, step))
		c.run(time.Minute, m)
		r := m.Result()
		expectSound(r)
		return r
	}

	It("passes a battery that rests at its reserve, or below it", func() {
		r := judge(constant(0.15), constant(0), nil)
		Expect(r.Status).To(Equal(criteria.Passed))
		Expect(r.Margin).To(BeNumerically("~", 1, 1e-9))
		Expect(r.Exercised).To(Equal(600 - 50))
	})

	It("fails one that gives more than that, and tells by whose word", func() {
		r := judge(func(t float64) float64 { return 0.2 - 0.001*t }, constant(-800), func(s *criteria.Sample) {
			s.Inverters[1].Mode = criteria.ModeDischarge
			s.Inverters[1].ToldSOC = 0.21
		})
		Expect(r.Status).To(Equal(criteria.Failed))
		Expect(r.FirstBreachS).To(BeNumerically("~", 10.1, 1e-9)) // 1 % at 10 s
		Expect(r.Observed).To(BeNumerically("~", 5.5, 1e-9))      // 6 % at the end, 5.5 % 5 s before
		Expect(r.Avoidable).To(BeTrue())
		Expect(r.Detail).To(Equal("south was discharged to 14 %, 6 % below its reserve; it reported 21 %; 60.0 s by command, 0.0 s by its own loop"))
		Expect(figure(r, "below_by_command")).To(BeNumerically("~", 60, 1e-9))
	})

	It("tolerates an inverter that goes on for the excepted time", func() {
		for d, want := range map[float64]criteria.Status{5: criteria.Passed, 5.1: criteria.Failed} {
			r := judge(constant(0.1), func(t float64) float64 {
				if t < d+0.05 {
					return -800
				}
				return 0
			}, nil)
			Expect(r.Status).To(Equal(want), "%v s", d)
		}
	})

	It("lets the reserve be used in an outage", func() {
		r := judge(constant(0.1), constant(-800), func(s *criteria.Sample) { s.Islanded = true })
		Expect(r.Status).To(Equal(criteria.NotExercised))
	})

	It("is not exercised by batteries that stay far above, or have no reserve", func() {
		Expect(judge(constant(0.5), constant(-800), nil).Status).To(Equal(criteria.NotExercised))
		r := judge(constant(0.0), constant(-800), func(s *criteria.Sample) { s.Inverters[1].Reserve = 0 })
		Expect(r.Status).To(Equal(criteria.NotExercised))
	})

	It("blames the bench for samples with another number of inverters", func() {
		r := feed(must(criteria.NewReserve(p, step)), []criteria.Sample{{Tick: 1, StepS: 0.1, Inverters: make([]criteria.InverterSample, 1)}})
		Expect(r.Status).To(Equal(criteria.Undetermined))
		Expect(r.Detail).To(ContainSubstring("bench fault"))
	})

	It("refuses parameters without meaning", func() {
		for text, p := range map[string]criteria.Reserve{
			"reserve: below is -1, but must be a finite number of at least zero":         {Below: -1},
			"reserve: except is -1s, but must lie between 0s and 1h0m0s":                 {Except: -time.Second},
			"reserve: names is empty, but must name each inverter in the samples' order": {},
		} {
			_, err := criteria.NewReserve(p, step)
			Expect(err).To(MatchError(text))
		}
	})

	It("agrees with the definition evaluated offline on random traces", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			trace := drawTrace(t)
			k := rapid.IntRange(1, 8).Draw(t, "window")
			below := 0.1 * float64(rapid.IntRange(0, 3).Draw(t, "below"))
			held := rapid.IntRange(1, 10).Draw(t, "held")
			n := len(trace[0].Inverters)
			for i := range trace {
				trace[i].Islanded = rapid.IntRange(0, 9).Draw(t, "outage") == 0
				for j := range trace[i].Inverters {
					v := &trace[i].Inverters[j]
					v.Reserve = 0.25 * float64(rapid.IntRange(0, 4).Draw(t, "reserve"))
					if i%held != 0 {
						*v = trace[i-1].Inverters[j]
					}
				}
			}
			r := feed(must(criteria.NewReserve(criteria.Reserve{
				Below: below, Except: time.Duration(k-1) * step, Names: make([]string, n),
			}, step)), trace)

			worst, at, judged, exercised := math.Inf(-1), 0, false, 0
			for j := range n {
				var depth, near []float64
				for _, s := range trace {
					v := s.Inverters[j]
					d := max(-0.02, v.Reserve-v.SOC)
					if s.Islanded || v.BatteryW >= -50 {
						d = min(d, 0)
					}
					depth = append(depth, d)
					near = append(near, map[bool]float64{true: 1}[!s.Islanded && v.Reserve > 0 && v.SOC <= v.Reserve+0.02])
				}
				w, start, ok := largestWindowMin(depth, k)
				judged = ok
				if w > worst {
					worst, at = w, start
				}
				exercised += fullWindows(near, k)
			}
			want := criteria.NotExercised
			switch {
			case judged && worst > below+1e-11:
				want = criteria.Failed
			case exercised > 0:
				want = criteria.Passed
			}
			if r.Status != want || r.Exercised != exercised {
				t.Fatalf("got %+v, want %s with %d exercised", r, want, exercised)
			}
			if judged && (math.Abs(r.Margin-100*(below-worst)) > 1e-6 || math.Abs(r.AtS-float64(at+1)*0.1) > 1e-9) {
				t.Fatalf("got margin %v at %v, want %v at %d", r.Margin, r.AtS, 100*(below-worst), at+1)
			}
		})
	})
})

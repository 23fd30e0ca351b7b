package criteria_test

import (
	"math"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"

	"kilter/suites/criteria"
)

var _ = Describe("Fail-safe", func() {
	p := criteria.FailSafe{BelowW: 100, Within: 20 * time.Second, NativeIsSafe: true, Names: bothNames}

	// judge has north discharge 1500 W until stop, and what edit says lost.
	judge := func(p criteria.FailSafe, stop float64, edit func(s *criteria.Sample, t float64)) criteria.Result {
		c := calmSite()
		c.north = func(t float64) float64 {
			if t < stop {
				return -1500
			}
			return -20
		}
		c.edit = func(s *criteria.Sample) {
			s.Controller = criteria.ControllerPresent
			s.Inverters[0].Mode, s.Inverters[1].Mode = criteria.ModeDischarge, criteria.ModeHold
			edit(s, float64(s.Tick)*0.1)
		}
		m := must(criteria.NewFailSafe(p, step))
		c.run(time.Minute, m)
		r := m.Result()
		expectSound(r)
		return r
	}
	dies := func(from float64) func(s *criteria.Sample, t float64) {
		return func(s *criteria.Sample, t float64) {
			if t > from+0.05 {
				s.Controller = criteria.ControllerDead
			}
		}
	}

	It("passes inverters that come to rest in time", func() {
		r := judge(p, 29.95, dies(10))
		Expect(r.Status).To(Equal(criteria.Passed))
		Expect(r.Exercised).To(Equal(1))
		Expect(r.Margin).To(Equal(80.0))
	})

	It("fails one that goes on, and says since when and why", func() {
		r := judge(p, 31, dies(10))
		Expect(r.Status).To(Equal(criteria.Failed))
		Expect(r.Observed).To(Equal(1500.0))
		Expect(r.FirstBreachS).To(BeNumerically("~", 30, 1e-9))
		Expect(r.Detail).To(Equal("north carried 1500 W, 0:00:20 after the controller was gone"))
	})

	It("takes a native loop under limits for safe where that is asked, unless they force power", func() {
		under := func(forced bool) func(s *criteria.Sample, t float64) {
			return func(s *criteria.Sample, t float64) {
				dies(10)(s, t)
				s.Inverters[0].Limits, s.Inverters[0].Forced = criteria.ChargeLimited, forced
				if t > 15 {
					s.Inverters[0].Mode = criteria.ModeNative
				}
			}
		}
		narrowed := p
		narrowed.NarrowedIsSafe = true
		Expect(judge(narrowed, 100, under(false)).Status).To(Equal(criteria.Passed))
		Expect(judge(narrowed, 100, under(true)).Status).To(Equal(criteria.Failed))
		Expect(judge(p, 100, under(false)).Status).To(Equal(criteria.Failed))
	})

	It("takes a native loop that is released for safe, and one under a limit not", func() {
		native := func(limits criteria.LimitSet) func(s *criteria.Sample, t float64) {
			return func(s *criteria.Sample, t float64) {
				dies(10)(s, t)
				if t > 15 {
					s.Inverters[0].Mode, s.Inverters[0].Limits = criteria.ModeNative, limits
				}
			}
		}
		Expect(judge(p, 90, native(0)).Status).To(Equal(criteria.Passed))
		Expect(judge(p, 90, native(criteria.ChargeLimited)).Status).To(Equal(criteria.Failed))
		q := p
		q.NativeIsSafe = false
		Expect(judge(q, 90, native(0)).Status).To(Equal(criteria.Failed))
	})

	It("asks of a lost link only its own inverter, and of a lost meter all", func() {
		r := judge(p, 90, func(s *criteria.Sample, t float64) { s.Inverters[1].LinkLost = t > 10 })
		Expect(r.Status).To(Equal(criteria.NotExercised))
		Expect(r.Detail).To(HaveSuffix("1 loss, none with anything to make safe for long enough"))
		r = judge(p, 90, func(s *criteria.Sample, t float64) { s.Inverters[0].LinkLost = t > 10 })
		Expect(r.Detail).To(HaveSuffix("after its link was lost"))
		r = judge(p, 90, func(s *criteria.Sample, t float64) { s.MeterLost = t > 10 })
		Expect(r.Detail).To(HaveSuffix("after a meter was lost"))
	})

	It("is undetermined when no loss lasted long enough, and not exercised without one", func() {
		r := judge(p, 90, dies(50))
		Expect(r.Status).To(Equal(criteria.Undetermined))
		r = judge(p, 90, func(s *criteria.Sample, t float64) { s.Inverters[0].LinkLost = t > 10 && t < 15 })
		Expect(r.Status).To(Equal(criteria.Undetermined))
		Expect(figure(r, "short")).To(Equal(1.0))
		Expect(judge(p, 90, func(*criteria.Sample, float64) {}).Status).To(Equal(criteria.NotExercised))
	})

	It("agrees with the definition evaluated offline on random traces", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			trace := drawTrace(t)
			n := len(trace[0].Inverters)
			k := rapid.IntRange(1, 6).Draw(t, "within")
			below := 100 * float64(rapid.IntRange(0, 20).Draw(t, "below"))
			native := rapid.Bool().Draw(t, "native is safe")
			dead, blind := false, false
			links := make([]bool, n)
			for i := range trace {
				s := &trace[i]
				toggle := func(b *bool, what string) bool {
					if rapid.IntRange(0, 9).Draw(t, what) == 0 {
						*b = !*b
					}
					return *b
				}
				if toggle(&dead, "dead") {
					s.Controller = criteria.ControllerDead
				}
				s.MeterLost = toggle(&blind, "blind")
				for j := range n {
					s.Inverters[j].LinkLost = toggle(&links[j], "link")
					s.Inverters[j].Mode = criteria.Mode(rapid.IntRange(0, 2).Draw(t, "mode"))
				}
			}
			r := feed(must(criteria.NewFailSafe(criteria.FailSafe{
				BelowW: below, Within: time.Duration(k) * step, NativeIsSafe: native, Names: make([]string, n),
			}, step)), trace)

			worst, exercised, losses := -1.0, 0, 0
			for j := range n {
				unsafe := func(i int) float64 {
					v := trace[i].Inverters[j]
					if native && v.Mode == criteria.ModeNative {
						return 0
					}
					return math.Abs(v.BatteryW)
				}
				lost := func(i int) bool {
					return i >= 0 && i < len(trace) && (trace[i].Controller == criteria.ControllerDead || trace[i].MeterLost || trace[i].Inverters[j].LinkLost)
				}
				for a := range trace {
					if !lost(a) || lost(a-1) {
						continue
					}
					losses++
					armed, judged := false, false
					for b := a; lost(b); b++ {
						armed = armed || unsafe(b) > below
						if b+1-a >= k { // the sample ends this many steps after the loss began
							judged = true
							worst = max(worst, unsafe(b))
						}
					}
					if armed && judged {
						exercised++
					}
				}
			}
			want := criteria.NotExercised
			switch {
			case worst > below:
				want = criteria.Failed
			case exercised > 0:
				want = criteria.Passed
			case losses > 0 && worst < 0:
				want = criteria.Undetermined
			}
			if r.Status != want || r.Exercised != exercised || (worst >= 0 && r.Margin != below-worst) {
				t.Fatalf("got %+v, want %s, %d exercised, margin %v", r, want, exercised, below-worst)
			}
		})
	})
})

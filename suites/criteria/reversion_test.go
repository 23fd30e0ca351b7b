package criteria_test

import (
	"math"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"

	"kilter/suites/criteria"
)

var _ = Describe("Reversion", func() {
	p := criteria.Reversion{Within: 2 * time.Second, Names: bothNames}
	limit := func(lasts float64) criteria.CommandSample {
		return criteria.CommandSample{Device: 3, Inverter: 2, Signal: "charge_limit", Limit: criteria.ChargeLimited, LastsS: lasts}
	}

	// judge puts commands on south at whole seconds; the limit is in force from 10 s until gone.
	judge := func(gone float64, commands map[int64]criteria.CommandSample) criteria.Result {
		c := calmSite()
		c.edit = func(s *criteria.Sample) {
			s.Commands = s.Commands[:0]
			// A command of 10 s takes effect in the step that begins then.
			if cmd, ok := commands[(s.Tick-1)/10]; ok && (s.Tick-1)%10 == 0 {
				s.Commands = append(s.Commands, cmd)
			}
			if begin := float64(s.Tick-1) * 0.1; begin > 9.95 && begin < gone-0.05 {
				s.Inverters[1].Limits = criteria.ChargeLimited
			}
		}
		m := must(criteria.NewReversion(p, step))
		c.run(time.Minute, m)
		r := m.Result()
		expectSound(r)
		return r
	}
	once := map[int64]criteria.CommandSample{10: limit(20)}

	It("passes a limit that ends on time, give or take a poll", func() {
		for gone, margin := range map[float64]float64{30: 2, 32: 0, 28: 0, 31: 1} {
			r := judge(gone, once)
			Expect(r.Status).To(Equal(criteria.Passed), "%v: %s", gone, r.Detail)
			Expect(r.Margin).To(BeNumerically("~", margin, 1e-6))
		}
	})

	It("fails one that ends late, early or never", func() {
		Expect(judge(32.1, once).Status).To(Equal(criteria.Failed))
		Expect(judge(27.9, once).Status).To(Equal(criteria.Failed))
		r := judge(90, once)
		Expect(r.Status).To(Equal(criteria.Failed))
		Expect(r.Exercised).To(Equal(1))
		Expect(r.FirstBreachS).To(BeNumerically("~", 32.1, 1e-6))
		Expect(r.Detail).To(Equal("the limit of south that was due to end at 0:00:30 was still there at 0:00:59.9"))
	})

	It("counts from the last renewal", func() {
		r := judge(40, map[int64]criteria.CommandSample{10: limit(20), 20: limit(20)})
		Expect(r.Status).To(Equal(criteria.Passed))
		Expect(r.Margin).To(BeNumerically("~", 2, 1e-6))
	})

	It("does not judge what was written for ever, refused, without effect, or released by a command", func() {
		Expect(judge(20, map[int64]criteria.CommandSample{10: limit(0)}).Status).To(Equal(criteria.NotExercised))
		Expect(judge(20, map[int64]criteria.CommandSample{10: {Inverter: 2, Limit: criteria.ChargeLimited, LastsS: 20, Refused: true}}).Status).To(Equal(criteria.NotExercised))
		Expect(judge(0, once).Status).To(Equal(criteria.NotExercised))
		Expect(judge(20, map[int64]criteria.CommandSample{10: limit(20), 20: {Inverter: 2, Signal: "mode"}}).Status).To(Equal(criteria.NotExercised))
	})

	It("is undetermined when the run ends before", func() {
		Expect(judge(90, map[int64]criteria.CommandSample{10: limit(100)}).Status).To(Equal(criteria.Undetermined))
	})

	It("agrees with the definition evaluated offline on random traces", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			n := rapid.IntRange(1, 80).Draw(t, "length")
			within := rapid.IntRange(1, 5).Draw(t, "within")
			trace := make([]criteria.Sample, n)
			kinds := []criteria.LimitSet{criteria.ChargeLimited, criteria.OutputLimited}
			on := [2]bool{}
			for i := range trace {
				s := &trace[i]
				*s = criteria.Sample{Tick: int64(i + 1), StepS: 0.1, Inverters: make([]criteria.InverterSample, 1)}
				for k, kind := range kinds {
					commanded := rapid.IntRange(0, 9).Draw(t, "command") == 0
					if commanded {
						s.Commands = append(s.Commands, criteria.CommandSample{
							Inverter: 1, Limit: kind, LastsS: 0.1 * float64(rapid.IntRange(0, 10).Draw(t, "lasts")),
							Refused: rapid.IntRange(0, 4).Draw(t, "refused") == 0,
						})
						on[k] = rapid.IntRange(0, 4).Draw(t, "in force") > 0
					} else if rapid.IntRange(0, 9).Draw(t, "gone") == 0 {
						on[k] = false
					}
					if on[k] {
						s.Inverters[0].Limits |= kind
					}
				}
			}
			r := feed(must(criteria.NewReversion(criteria.Reversion{Within: time.Duration(within) * step, Names: []string{"one"}}, step)), trace)

			judged, worst := 0, 0.0
			for a, s := range trace {
				for _, c := range s.Commands {
					if c.Refused || c.LastsS == 0 || s.Inverters[0].Limits&c.Limit == 0 {
						continue
					}
					due := float64(a)*0.1 + c.LastsS
					end, late := false, 0.0
				wait:
					for b := a; b < n && !end; b++ {
						now := float64(b) * 0.1
						gone := trace[b].Inverters[0].Limits&c.Limit == 0
						for _, other := range trace[b].Commands {
							if b > a && !other.Refused && (other.Limit == c.Limit || gone) {
								break wait
							}
						}
						switch {
						case gone:
							late, end = math.Abs(now-due), true
						case now-due > 0.1*float64(within)+1e-6:
							late = now - due
						}
					}
					if end || late > 0 {
						judged++
						worst = max(worst, late)
					}
				}
			}
			if r.Exercised != judged || math.Abs(r.Observed-worst) > 1e-9 && judged > 0 {
				t.Fatalf("got %+v, want %d judged, worst %v", r, judged, worst)
			}
			if failed := worst > 0.1*float64(within)+1e-6; (r.Status == criteria.Failed) != failed {
				t.Fatalf("got %+v, want failed %v", r, failed)
			}
		})
	})
})

var _ = Describe("Limits without a time", func() {
	none := 0
	p := criteria.Reversion{Within: time.Second, Untimed: &none, Names: bothNames}

	// judge has north's charge limit commanded in the step that begins at 10 s, by each of some commands.
	judge := func(p criteria.Reversion, commands ...criteria.CommandSample) criteria.Result {
		c := calmSite()
		c.edit = func(s *criteria.Sample) {
			s.Commands = nil
			if at(s, 10) {
				s.Commands = commands
			}
			if float64(s.Tick)*s.StepS > 10 {
				s.Inverters[0].Limits = criteria.ChargeLimited
			}
		}
		m := must(criteria.NewReversion(p, step))
		c.run(time.Minute, m)
		r := m.Result()
		expectSound(r)
		return r
	}
	limit := criteria.CommandSample{Inverter: 1, Limit: criteria.ChargeLimited, Timeable: true}
	timed, untimely := limit, limit
	timed.LastsS, untimely.Timeable = 300, false

	It("fail on a device that could be told one, since when", func() {
		r := judge(p, limit)
		Expect(r.Status).To(Equal(criteria.Failed))
		Expect(r.Decides).To(Equal("untimed"))
		Expect(r.Margin).To(Equal(-1.0))
		Expect(r.FirstBreachS).To(BeNumerically("~", 10.1, 1e-9))
		Expect(r.Avoidable).To(BeTrue())
		Expect(r.Detail).To(ContainSubstring("first of north at 0:00:10.1"))
	})

	It("pass where the time comes in the same step, or is tolerated, and count where the limits could have one", func() {
		Expect(judge(p, limit, timed).Status).To(Equal(criteria.Passed))
		one := 1
		Expect(judge(criteria.Reversion{Within: time.Second, Untimed: &one, Names: bothNames}, limit).Status).To(Equal(criteria.Passed))
		Expect(judge(p, untimely).Status).To(Equal(criteria.NotExercised))
		Expect(judge(criteria.Reversion{Within: time.Second, Names: bothNames}, limit).Status).To(Equal(criteria.NotExercised), "not asked for")
	})
})

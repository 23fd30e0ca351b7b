package criteria_test

import (
	"math"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"

	"kilter/suites/criteria"
)

var _ = Describe("Schedule", func() {
	p := criteria.Schedule{Target: 0.9, Below: 0.01, Efficiency: 1, Names: bothNames}

	// judge has a cheap slot from 10 s to 70 s, in which north goes from 50 % to
	// end and south is full enough. Both hold 100 Wh and can take 3600 W: 1 % a second.
	judge := func(p criteria.Schedule, end float64, d time.Duration, edit func(s *criteria.Sample)) criteria.Result {
		c := calmSite()
		c.edit = func(s *criteria.Sample) {
			t := float64(s.Tick) * 0.1
			s.Cheap = t > 10.05 && t < 70.05
			s.Inverters[0].SOC = 0.5 + (end-0.5)*max(0, min(1, (t-10)/60))
			s.Inverters[1].SOC = 0.95
			s.Inverters[0].CapacityWh, s.Inverters[1].CapacityWh = 100, 100
			if edit != nil {
				edit(s)
			}
		}
		m := must(criteria.NewSchedule(p, step))
		c.run(d, m)
		r := m.Result()
		expectSound(r)
		return r
	}

	It("passes a battery that is charged in time", func() {
		r := judge(p, 0.9, 2*time.Minute, nil)
		Expect(r.Status).To(Equal(criteria.Passed))
		Expect(r.Exercised).To(Equal(1))
		Expect(r.Margin).To(BeNumerically("~", 1, 1e-9))
	})

	It("fails one that is not, and says what could be had", func() {
		r := judge(p, 0.7, 2*time.Minute, nil)
		Expect(r.Status).To(Equal(criteria.Failed))
		Expect(r.Observed).To(BeNumerically("~", 20, 1e-9))
		Expect(r.AtS).To(BeNumerically("~", 70, 1e-9))
		Expect(r.Detail).To(Equal("north ended the window at 0:01:10 with 70 %, of 90 % that could be had"))
	})

	It("asks for no more than the rating, the efficiency and the common limit allow", func() {
		slow := func(s *criteria.Sample) { s.Inverters[0].ChargeRoomW = 1200 } // 20 % in 60 s
		Expect(judge(p, 0.7, 2*time.Minute, slow).Status).To(Equal(criteria.Passed))
		Expect(judge(p, 0.68, 2*time.Minute, slow).Status).To(Equal(criteria.Failed))
		q := p
		q.Efficiency = 0.9 // 18 %
		Expect(judge(q, 0.68, 2*time.Minute, slow).Status).To(Equal(criteria.Passed))
		// 2400 W for two rooms of 3600 W: a third each, 20 % in 60 s.
		q = p
		q.ImportBelowW = 5000
		load := func(s *criteria.Sample) { s.NetLoadW = 2600 }
		Expect(judge(q, 0.7, 2*time.Minute, load).Status).To(Equal(criteria.Passed))
		Expect(judge(q, 0.68, 2*time.Minute, load).Status).To(Equal(criteria.Failed))
	})

	It("tells how long the battery was away", func() {
		r := judge(p, 0.6, 2*time.Minute, func(s *criteria.Sample) {
			if s.Tick > 300 && s.Tick <= 400 {
				s.Inverters[0].Away, s.Inverters[0].ChargeRoomW = true, 0
			}
		})
		Expect(r.Detail).To(ContainSubstring("it was away for 10.0 s"))
	})

	It("takes a window of the clock in place of cheap slots", func() {
		q := p
		q.From, q.To = 10*time.Second, 40*time.Second
		r := judge(q, 0.9, 40*time.Second, nil)
		Expect(r.Status).To(Equal(criteria.Failed))
		Expect(r.Observed).To(BeNumerically("~", 50+0.4/6+29.9-70, 1e-6)) // by hand: the first sample stands at 10.1 s
		Expect(r.AtS).To(BeNumerically("~", 40, 1e-9))
	})

	It("is undetermined while the window is open, and not exercised without one", func() {
		r := judge(p, 0.9, time.Minute, nil)
		Expect(r.Status).To(Equal(criteria.Undetermined))
		Expect(r.Detail).To(Equal("the window that began at 0:00:10.1 was still open at the end"))
		Expect(judge(p, 0.9, 5*time.Second, nil).Status).To(Equal(criteria.NotExercised))
		r = judge(p, 0.5, 2*time.Minute, func(s *criteria.Sample) { s.Inverters[0].CapacityWh = 0 })
		Expect(r.Status).To(Equal(criteria.NotExercised))
	})

	It("refuses an empty window", func() {
		q := p
		q.From, q.To = time.Minute, time.Second
		_, err := criteria.NewSchedule(q, step)
		Expect(err).To(MatchError("schedule: the window from 1m0s to 1s is empty; to must be later than from, or both zero for cheap slots"))
	})

	It("agrees with the definition evaluated offline on random traces", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			trace := drawTrace(t)
			n := len(trace[0].Inverters)
			p := criteria.Schedule{
				Target: rapid.Float64Range(0.1, 1).Draw(t, "target"), Efficiency: 0.9, Names: make([]string, n),
				ImportBelowW: float64(rapid.SampledFrom([]int{0, 1500}).Draw(t, "limit")),
			}
			for i := range trace {
				trace[i].Cheap = rapid.IntRange(0, 5).Draw(t, "cheap") > 0
				for j := range n {
					trace[i].Inverters[j].CapacityWh = 0.2 * float64(j+1)
				}
			}
			r := feed(must(criteria.NewSchedule(p, step)), trace)

			worst, exercised := math.Inf(-1), 0
			for a := 0; a < len(trace); a++ {
				if !trace[a].Cheap || (a > 0 && trace[a-1].Cheap) {
					continue
				}
				b := a
				for b+1 < len(trace) && trace[b+1].Cheap {
					b++
				}
				if b == len(trace)-1 {
					break
				}
				for j := range n {
					begin := trace[a].Inverters[j].SOC
					had := begin
					for _, s := range trace[a+1 : b+1] {
						room, _ := rooms(s)
						q := 1.0
						if p.ImportBelowW > 0 && room > 0 {
							q = min(1, max(0, p.ImportBelowW-s.NetLoadW)/room)
						}
						v := s.Inverters[j]
						had = min(1, had+0.9*q*v.ChargeRoomW*0.1/3600/v.CapacityWh)
					}
					soc, want := trace[b].Inverters[j].SOC, min(p.Target, had)
					worst = max(worst, want-soc)
					if (begin < p.Target && had > begin) || soc < want {
						exercised++
					}
				}
			}
			if failed := 100*worst > 1e-9; (r.Status == criteria.Failed) != failed || r.Exercised != exercised {
				t.Fatalf("got %+v, want missing %v with %d exercised", r, worst, exercised)
			}
			if r.Valid && math.Abs(r.Margin+100*worst) > 1e-6 {
				t.Fatalf("got margin %v, want %v", r.Margin, -100*worst)
			}
		})
	})
})

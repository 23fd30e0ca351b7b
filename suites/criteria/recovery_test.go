package criteria_test

import (
	"math"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"

	"kilter/suites/criteria"
)

var _ = Describe("Recovery", func() {
	p := criteria.Recovery{BandW: 200, Within: 30 * time.Second, Hold: 10 * time.Second}

	// judge has the controller dead from 10 s to 20 s, and a load of 1 kW that
	// north covers again from back on.
	judge := func(back float64, d time.Duration, edit func(s *criteria.Sample, t float64)) criteria.Result {
		c := calmSite()
		c.load = constant(1000)
		c.north = func(t float64) float64 {
			if t > 10 && t < back+0.05 {
				return 0
			}
			return -1000
		}
		c.edit = func(s *criteria.Sample) {
			t := float64(s.Tick) * 0.1
			s.Controller = criteria.ControllerPresent
			if t > 10.05 && t < 20.05 {
				s.Controller = criteria.ControllerDead
			}
			if edit != nil {
				edit(s, t)
			}
		}
		m := must(criteria.NewRecovery(p, step))
		c.run(d, m)
		r := m.Result()
		expectSound(r)
		return r
	}

	It("passes a controller that has the flow in the band soon enough", func() {
		r := judge(49.8, 2*time.Minute, nil)
		Expect(r.Status).To(Equal(criteria.Passed))
		Expect(r.Observed).To(BeNumerically("~", 29.9, 1e-6))
		Expect(r.AtS).To(BeNumerically("~", 20, 1e-6))
		Expect(r.Detail).To(Equal("the return at 0:00:20 took 0:00:29.9 to bring the flow into the band"))
	})

	It("fails one that takes longer, or never does it", func() {
		r := judge(50, 2*time.Minute, nil)
		Expect(r.Status).To(Equal(criteria.Failed))
		Expect(r.Margin).To(BeNumerically("~", -0.1, 1e-6))
		r = judge(500, 2*time.Minute, nil)
		Expect(r.Status).To(Equal(criteria.Failed))
		Expect(r.Observed).To(BeNumerically("~", 100.1, 1e-6))
		Expect(r.Detail).To(HavePrefix("the return at 0:00:20 took more than 0:01:40.1"))
	})

	It("asks that the flow stays in the band for a while", func() {
		r := judge(25, 2*time.Minute, func(s *criteria.Sample, t float64) {
			if math.Abs(t-34) < 0.05 {
				s.GridW += 300
			}
		})
		Expect(r.Observed).To(BeNumerically("~", 14.1, 1e-6))
	})

	It("is undetermined when there was no time, or the flow was wanted, and not exercised without a return", func() {
		Expect(judge(500, 45*time.Second, nil).Status).To(Equal(criteria.Undetermined))
		r := judge(500, 2*time.Minute, func(s *criteria.Sample, t float64) { s.ImportWanted = t > 30 })
		Expect(r.Status).To(Equal(criteria.Undetermined))
		Expect(figure(r, "censored")).To(Equal(1.0))
		Expect(judge(500, 15*time.Second, nil).Status).To(Equal(criteria.NotExercised))
	})

	It("agrees with the definition evaluated offline on random traces", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			trace := drawTrace(t)
			within, hold := rapid.IntRange(1, 12).Draw(t, "within"), rapid.IntRange(0, 6).Draw(t, "hold")
			band := 100 * float64(rapid.IntRange(1, 30).Draw(t, "band"))
			dead := false
			for i := range trace {
				if rapid.IntRange(0, 9).Draw(t, "toggle") == 0 {
					dead = !dead
				}
				if dead {
					trace[i].Controller = criteria.ControllerDead
				}
				trace[i].ExportWanted = rapid.IntRange(0, 30).Draw(t, "wanted") == 0
			}
			r := feed(must(criteria.NewRecovery(criteria.Recovery{
				BandW: band, Within: time.Duration(within) * step, Hold: time.Duration(hold) * step,
			}, step)), trace)

			gone := func(i int) bool { return trace[i].Controller == criteria.ControllerDead }
			in := func(i int) bool {
				charge, discharge := rooms(trace[i])
				n := trace[i].NetLoadW
				best := n
				switch { // what is left when the batteries do their best
				case n > 0:
					best = max(0, n-discharge)
				case n < 0:
					best = min(0, n+charge)
				}
				return math.Abs(trace[i].GridW-best) <= band
			}
			judged, failed, censored, worst := 0, 0, 0, 0
			for a := 1; a < len(trace); a++ {
				if gone(a) || !gone(a-1) {
					continue
				}
				end := a // the first sample that does not belong to the return
				for end < len(trace) && !gone(end) && !trace[end].ExportWanted {
					end++
				}
				took, settled := -1, false
				for b := a; b < end && !settled; b++ {
					run := 0
					for b+run < end && in(b+run) && run <= hold {
						run++
					}
					if run > hold || (run > 0 && b+run == end) {
						took, settled = b-a+1, run > hold
						if b == a {
							took = 0
						}
						break
					}
				}
				if took < 0 {
					took = end - a + 1
				}
				switch {
				case end == a || (!settled && took <= within):
					censored++
				default:
					judged++
					worst = max(worst, took)
					if took > within {
						failed++
					}
				}
			}
			if r.Exercised != judged || figure(r, "failed") != float64(failed) || figure(r, "censored") != float64(censored) {
				t.Fatalf("got %+v, want %d judged, %d failed, %d censored", r, judged, failed, censored)
			}
			if judged > 0 && math.Abs(r.Observed-0.1*float64(worst)) > 1e-9 {
				t.Fatalf("got %v s, want %v", r.Observed, 0.1*float64(worst))
			}
		})
	})
})

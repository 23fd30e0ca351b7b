package criteria_test

import (
	"math"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"

	"kilter/suites/criteria"
)

func bound(x float64) *float64 { return &x }

var _ = Describe("Wear", func() {
	const second = time.Second
	p := criteria.Wear{CyclesPerDay: bound(1), ReversalsPerHour: bound(6), ModeFlipsPerHour: bound(4), Names: bothNames}

	// judge runs both batteries at 1 s steps; north swings between charge and discharge with a period.
	judge := func(p criteria.Wear, d time.Duration, period float64, edit func(s *criteria.Sample, t float64)) criteria.Result {
		c := calmSite()
		c.step = second
		c.north = func(t float64) float64 { return math.Copysign(1000, math.Sin(2*math.Pi*(t-0.5)/period)) }
		c.edit = func(s *criteria.Sample) {
			if edit != nil {
				edit(s, float64(s.Tick))
			}
		}
		m := must(criteria.NewWear(p, second))
		c.run(d, m)
		r := m.Result()
		expectSound(r)
		return r
	}

	It("passes batteries that do one thing at a time", func() {
		r := judge(p, 30*time.Minute, 7200, nil)
		Expect(r.Status).To(Equal(criteria.Passed))
		Expect(r.Exercised).To(Equal(1800))
		Expect(r.Clauses).To(HaveLen(3))
	})

	It("fails one that changes direction too often in an hour, and says when", func() {
		r := judge(p, 2*time.Hour, 600, nil)
		Expect(r.Status).To(Equal(criteria.Failed))
		Expect(r.Unit).To(Equal("1/h"))
		Expect(figure(r, "reversals")).To(Equal(12.0)) // one each five minutes
		Expect(r.FirstBreachS).To(BeNumerically("~", 7*300+1, 1e-9))
		Expect(r.Detail).To(ContainSubstring("12 reversals in an hour (north)"))
		Expect(r.Clauses[0].Status).To(Equal(criteria.Passed))
		Expect(r.Clauses[1].Status).To(Equal(criteria.Failed))
	})

	It("takes rest, and power within what an inverter takes for itself, for no reversal", func() {
		r := judge(p, time.Hour, 600, func(s *criteria.Sample, _ float64) {
			s.Inverters[0].BatteryW = max(s.Inverters[0].BatteryW, -50)
		})
		Expect(figure(r, "reversals")).To(BeZero())
	})

	It("counts the changes between modes that are known", func() {
		modes := []criteria.Mode{criteria.ModeUnknown, criteria.ModeNative, criteria.ModeUnknown, criteria.ModeNative, criteria.ModeHold}
		r := judge(p, 50*second, 7200, func(s *criteria.Sample, t float64) { s.Inverters[1].Mode = modes[int(t-1)/10] })
		Expect(figure(r, "mode_flips")).To(Equal(1.0))
		r = judge(p, 10*time.Minute, 7200, func(s *criteria.Sample, t float64) {
			s.Inverters[1].Mode = []criteria.Mode{criteria.ModeNative, criteria.ModeHold}[int(t)/60%2]
		})
		Expect(r.Status).To(Equal(criteria.Failed))
		Expect(r.FirstBreachS).To(BeNumerically("~", 300, 1e-9))
		Expect(r.Detail).To(ContainSubstring("10 changes of mode in an hour (south)"))
	})

	It("counts equivalent full cycles of the last day, in whole hours", func() {
		// 0.1 up and 0.1 down each hour: 0.1 cycles an hour, 2.4 a day.
		saw := func(s *criteria.Sample, t float64) {
			s.Inverters[0].SOC = 0.5 + 0.1*(1-math.Abs(math.Mod(t, 3600)/1800-1))
		}
		q := criteria.Wear{CyclesPerDay: bound(2.35), Names: bothNames}
		r := judge(q, 50*time.Hour, 7200, saw)
		Expect(r.Status).To(Equal(criteria.Failed))
		Expect(r.Observed).To(BeNumerically("~", 2.4, 1e-3))
		Expect(r.FirstBreachS).To(BeNumerically("~", 24*3600, 1e-9))
		Expect(figure(r, "deepest_cycle")).To(BeNumerically("~", 10, 1e-2))
		q.CyclesPerDay = bound(2.45)
		Expect(judge(q, 50*time.Hour, 7200, saw).Status).To(Equal(criteria.Passed))
	})

	It("is not exercised by batteries at rest", func() {
		r := judge(p, time.Hour, 600, func(s *criteria.Sample, _ float64) { s.Inverters[0].BatteryW = 50 })
		Expect(r.Status).To(Equal(criteria.NotExercised))
	})

	It("refuses to judge without a bound", func() {
		_, err := criteria.NewWear(criteria.Wear{Names: bothNames}, step)
		Expect(err).To(MatchError(ContainSubstring("no bound is given")))
		_, err = criteria.NewWear(criteria.Wear{ReversalsPerHour: bound(-1), Names: bothNames}, step)
		Expect(err).To(MatchError("wear: reversals_per_hour is -1, but must be a finite number of at least zero"))
	})

	It("agrees with the definition evaluated offline on random traces", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			const minute = 60 // steps of 1 s
			n := rapid.IntRange(1, 8000).Draw(t, "length")
			every := rapid.IntRange(20, 600).Draw(t, "dwell")
			trace := make([]criteria.Sample, n)
			var soc, power []float64
			var modes []criteria.Mode
			x, w, mode := 0.5, 0.0, criteria.ModeNative
			for i := range trace {
				if i%every == 0 {
					w = 100 * float64(rapid.IntRange(-2, 2).Draw(t, "power"))
					mode = criteria.Mode(rapid.IntRange(0, 3).Draw(t, "mode"))
				}
				x = max(0, min(1, x+w/1e6))
				soc, power, modes = append(soc, x), append(power, w), append(modes, mode)
				trace[i] = criteria.Sample{Tick: int64(i + 1), StepS: 1, Inverters: []criteria.InverterSample{{SOC: x, BatteryW: w, Mode: mode}}}
			}
			zero := 0.0
			r := feed(must(criteria.NewWear(criteria.Wear{CyclesPerDay: &zero, ReversalsPerHour: &zero, ModeFlipsPerHour: &zero, Names: []string{"one"}}, second)), trace)

			var turned, flipped []int // steps, from 0
			last, known := 0.0, criteria.ModeUnknown
			for i := range trace {
				if math.Abs(power[i]) > 50 {
					if last*power[i] < 0 {
						turned = append(turned, i)
					}
					last = power[i]
				}
				if modes[i] != criteria.ModeUnknown {
					if known != criteria.ModeUnknown && modes[i] != known {
						flipped = append(flipped, i)
					}
					known = modes[i]
				}
			}
			largest := func(events []int) float64 {
				most := 0
				for end := range n/minute + 1 {
					count := 0
					for _, e := range events {
						if e/minute <= end && e/minute > end-60 {
							count++
						}
					}
					most = max(most, count)
				}
				return float64(most)
			}
			variation := 0.0
			for i := range soc[1:] {
				variation += math.Abs(soc[i+1] - soc[i])
			}
			if n < 3 {
				variation = 0
			}
			if got := figure(r, "reversals"); got != largest(turned) {
				t.Fatalf("got %v reversals, want %v", got, largest(turned))
			}
			if got := figure(r, "mode_flips"); got != largest(flipped) {
				t.Fatalf("got %v flips, want %v", got, largest(flipped))
			}
			if got := figure(r, "cycles"); math.Abs(got-variation/2) > 1e-9 {
				t.Fatalf("got %v cycles, want %v", got, variation/2)
			}
		})
	})
})

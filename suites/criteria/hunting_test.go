package criteria_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"

	"kilter/suites/criteria"
)

var _ = Describe("Hunting", func() {
	p := criteria.Hunting{BelowW: 150, GoneWithin: 2 * time.Minute}

	// judge runs a calm load of 1 kW under batteries that do as told.
	judge := func(d time.Duration, load, north func(t float64) float64) criteria.Result {
		m := must(criteria.NewHunting(p, step))
		c := calmSite()
		c.load, c.north = load, north
		c.run(d, m)
		r := m.Result()
		expectSound(r)
		return r
	}
	wave := func(amplitude, period float64) func(t float64) float64 {
		return func(t float64) float64 { return -1000 + amplitude*math.Sin(2*math.Pi*t/period) }
	}

	for _, period := range []float64{0.5, 1, 2, 4, 7.3, 10, 16.7, 25, 40, 60} {
		It(fmt.Sprintf("flags a sustained swing of 200 W with a period of %v s", period), func() {
			r := judge(10*time.Minute, constant(1000), wave(200, period))
			Expect(r.Status).To(Equal(criteria.Failed))
			Expect(r.Observed).To(BeNumerically("~", 200, 200*(1-math.Cos(math.Pi*0.1/period))+1e-6))
			Expect(figure(r, "period")).To(BeNumerically("~", period, 0.07+0.01*period))
			Expect(r.AtS).To(BeNumerically(">=", 120))
			Expect(r.Avoidable).To(BeTrue())
		})
		It(fmt.Sprintf("passes a swing of 140 W with a period of %v s, and measures it", period), func() {
			r := judge(10*time.Minute, constant(1000), wave(140, period))
			Expect(r.Status).To(Equal(criteria.Passed))
			Expect(r.Margin).To(BeNumerically("~", 10, 140*(1-math.Cos(math.Pi*0.1/period))+1e-6))
		})
	}

	It("does not see swings of which four need longer than it looks back", func() {
		r := judge(time.Hour, constant(1000), wave(200, 200))
		Expect(r.Status).To(Equal(criteria.Passed))
		Expect(r.Observed).To(BeNumerically("<", 150))
	})

	It("times the first swing from the end of a rest before it, high or low", func() {
		for _, sign := range []float64{1, -1} {
			// The rest lasts beyond the two minutes that four swings may take.
			r := judge(360*time.Second, constant(1000), func(t float64) float64 {
				if t < 280 {
					return -1000 + 400*sign
				}
				return -1000 + 400*sign*math.Copysign(1, math.Mod(t-280, 48)-24)
			})
			Expect(r.Status).To(Equal(criteria.Failed), r.Detail)
			Expect(r.FirstBreachS).To(BeNumerically(">", 270))
		}
	})

	It("does not let swings that just equal the bound hide larger ones", func() {
		m := must(criteria.NewHunting(criteria.Hunting{BelowW: 100, GoneWithin: step}, step))
		var r criteria.Result
		for i, w := range []float64{0, 0, -280, -80, -280, 240, 0, 400} {
			m.Observe(&criteria.Sample{Tick: int64(i + 1), StepS: 0.1, GridW: w})
			r = m.Result()
		}
		// By hand: 0, -280, 240, 0, 400 swings by 240 W or more, four times.
		Expect(r.Status).To(Equal(criteria.Failed))
		Expect(r.Observed).To(Equal(120.0))
	})

	It("is not fooled by ripple on a large slow swing", func() {
		r := judge(10*time.Minute, constant(1000), func(t float64) float64 {
			return wave(1500, 40)(t) + 90*math.Sin(2*math.Pi*t/1.7)
		})
		Expect(r.Status).To(Equal(criteria.Failed))
		Expect(r.Observed).To(BeNumerically(">", 1500/math.Sqrt2))
		Expect(figure(r, "period")).To(BeNumerically("~", 40, 2))
	})

	It("passes an oscillation that has rung down in time", func() {
		ring := func(t float64) float64 {
			return -1000 + 3000*math.Exp(-t/40)*math.Sin(2*math.Pi*t/9.8)
		}
		r := judge(10*time.Minute, constant(1000), ring)
		Expect(r.Status).To(Equal(criteria.Passed))
		// Four swings from the first extreme after 120 s on end half a period
		// apart; the smallest, between the fourth extreme and the fifth, has the
		// amplitude 3000 e^(-t/40) at about 136 to 142 s.
		Expect(r.Observed).To(BeNumerically(">", 3000*math.Exp(-142.0/40)))
		Expect(r.Observed).To(BeNumerically("<", 3000*math.Exp(-136.0/40)))
	})

	It("flags one that rings down too slowly", func() {
		r := judge(10*time.Minute, constant(1000), func(t float64) float64 {
			return -1000 + 3000*math.Exp(-t/60)*math.Sin(2*math.Pi*t/9.8)
		})
		Expect(r.Status).To(Equal(criteria.Failed))
	})

	It("flags an oscillation that grows from nothing", func() {
		r := judge(10*time.Minute, constant(1000), func(t float64) float64 {
			return -1000 + min(3000, math.Exp(t/50))*math.Sin(2*math.Pi*t/9.8)
		})
		Expect(r.Status).To(Equal(criteria.Failed))
		Expect(r.Observed).To(BeNumerically("~", 3000, 30))
		// At 150 W, e^(t/50) = 150 at 250 s.
		Expect(r.FirstBreachS).To(BeNumerically("~", 250, 15))
	})

	It("passes noise of 20 W rms", func() {
		random := rand.New(rand.NewPCG(1, 2))
		r := judge(4*time.Hour, constant(1000), func(float64) float64 { return -1000 + 20*random.NormFloat64() })
		Expect(r.Status).To(Equal(criteria.Passed))
		Expect(r.Observed).To(BeNumerically("<", 110))
	})

	It("passes a steady run and a single correction", func() {
		r := judge(10*time.Minute, constant(1000), func(t float64) float64 {
			if t > 200 && t < 230 {
				return 400
			}
			return -1000
		})
		Expect(r.Status).To(Equal(criteria.Passed))
		Expect(r.Exercised).To(Equal(1))
		Expect(r.Observed).To(BeZero())
	})

	It("passes batteries that follow the slow drift of a clear sky", func() {
		sun := func(t float64) float64 { return -5000 * math.Sin(math.Pi*t/43200) }
		r := judge(12*time.Hour, sun, func(t float64) float64 { return -sun(t - 20) })
		Expect(r.Status).To(Equal(criteria.Passed))
		Expect(figure(r, "longest_quiet")).To(BeNumerically(">", 11*3600))
	})

	It("never blames the batteries for an oven's thermostat, whatever its period and power", func() {
		for _, oven := range []float64{70, 80, 140, 160, 320, 1000, 6000} {
			for _, half := range []float64{3, 5, 12.5, 20, 31, 60, 150, 400} {
				for _, tau := range []float64{0.5, 2, 8, 20} {
					u := 0.0
					load := func(t float64) float64 {
						if int(t/half)%2 == 1 {
							return 1000 + oven
						}
						return 1000
					}
					r := judge(30*time.Minute, load, func(t float64) float64 {
						u += (-load(t) - u) * 0.1 / tau
						return u
					})
					Expect(r.Status).NotTo(Equal(criteria.Failed), "%v W, %v s, %v s: %s", oven, half, tau, r.Detail)
					if oven > 75 && half < 179 {
						Expect(r.Status).To(Equal(criteria.Undetermined))
					}
				}
			}
		}
	})

	It("never blames a polling controller with some overshoot under random loads and skies", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			poll := rapid.IntRange(5, 100).Draw(t, "poll ticks")
			gain := rapid.Float64Range(0.2, 0.9).Draw(t, "gain")
			// A lag well under the poll period keeps the loop damped: it is innocent.
			tau := 0.1 * float64(poll) * rapid.Float64Range(0.02, 0.33).Draw(t, "lag")
			random := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
			load, target, slope := 500.0, 500.0, 0.0
			command, u, tick := 0.0, 0.0, 0
			m := must(criteria.NewHunting(p, step))
			c := calmSite()
			c.load = func(float64) float64 {
				if random.IntN(600) == 0 {
					target += random.NormFloat64() * math.Pow(10, 1+2.5*random.Float64())
					slope = math.Pow(10, -1+4*random.Float64())
				}
				load += max(-slope, min(slope, target-load))
				return load
			}
			c.north = func(float64) float64 {
				if tick++; tick%poll == 0 {
					command -= gain * (load + u)
				}
				u += (command - u) * min(1, 0.1/tau)
				return u
			}
			c.run(20*time.Minute, m)
			if r := m.Result(); r.Status == criteria.Failed {
				t.Fatalf("false alarm: %s", r.Detail)
			}
		})
	})

	DescribeTable("tells a sampled integrator just over its stability limit from one under it",
		func(delay int) {
			// u[n+1] = u[n] - g y[n-d] is stable iff g < 2 sin(pi / (2 (2d + 1)))
			// (S. A. Levin and R. M. May, A note on difference-delay equations,
			// Theor. Popul. Biol. 9, 1976; check-values section 3.2).
			limit := 2 * math.Sin(math.Pi/(2*(2*float64(delay)+1)))
			for ratio, want := range map[float64]criteria.Status{0.8: criteria.Passed, 1.03: criteria.Failed} {
				seen := make([]float64, delay+1)
				u, tick := 0.0, 0
				r := judge(20*time.Minute, constant(1000), func(float64) float64 {
					if tick++; tick%10 == 0 {
						copy(seen, seen[1:])
						seen[delay] = 1000 + u
						u = max(-3600, min(3600, u-ratio*limit*seen[0]))
					}
					return u
				})
				Expect(r.Status).To(Equal(want), "%v of the limit: %s", ratio, r.Detail)
			}
		},
		// The bound g: check-values ST-05, 1; 0.618; 0.445; 0.347 for 1 to 4 samples, by root finding.
		Entry("delay of 1 sample", 1), Entry("2 samples", 2), Entry("3 samples", 3), Entry("4 samples", 4),
	)

	It("is undetermined when the load gave no quiet time, and not exercised by idle batteries", func() {
		noisy := func(t float64) float64 {
			if math.Mod(t, 100) < 50 {
				return 1000
			}
			return 2000
		}
		r := judge(time.Hour, noisy, wave(2000, 10))
		Expect(r.Status).To(Equal(criteria.Undetermined))
		Expect(r.Detail).To(HaveSuffix("the longest quiet interval was judged for 0.0 s, and 60 s are needed"))

		r = judge(time.Hour, constant(1000), constant(0))
		Expect(r.Status).To(Equal(criteria.NotExercised))
		Expect(r.Detail).To(Equal("the batteries never carried 75 W"))

		Expect(judge(170*time.Second, constant(1000), constant(-1000)).Status).To(Equal(criteria.NotExercised))
	})

	It("judges again after a disturbance, once the time has passed", func() {
		m := must(criteria.NewHunting(p, step))
		c := calmSite()
		c.load = constant(1000)
		c.north = func(t float64) float64 {
			if t < 300 {
				return -1000
			}
			return wave(500*math.Exp(-(t-300)/40), 8)(t)
		}
		c.edit = func(s *criteria.Sample) { s.Disturbed = at(s, 300) }
		c.run(10*time.Minute, m)
		r := m.Result()
		Expect(r.Status).To(Equal(criteria.Passed))
		Expect(r.Exercised).To(Equal(2))
	})

	It("finds exactly what the definition finds, evaluated offline on random traces", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			const gone = 5
			n := rapid.IntRange(10, 500).Draw(t, "length")
			scale := float64(rapid.IntRange(1, 60).Draw(t, "scale"))
			x := make([]float64, n)
			m := must(criteria.NewHunting(criteria.Hunting{BelowW: 100, GoneWithin: gone * step}, step))
			for i := range x {
				x[i] = scale * float64(rapid.IntRange(-10, 10).Draw(t, "power"))
				m.Observe(&criteria.Sample{Tick: int64(i + 1), StepS: 0.1, GridW: x[i]})
			}
			r := m.Result()
			a := fourSwingsOffline(x[gone:])
			if failed := r.Status == criteria.Failed; failed != (a > 100) {
				t.Fatalf("status %s, amplitude by definition %v", r.Status, a)
			}
			if r.Observed > a || (a > 25.001 && r.Observed < min(a/math.Sqrt2, 1100)-1e-3) {
				t.Fatalf("observed %v, amplitude by definition %v", r.Observed, a)
			}
		})
	})
})

// fourSwingsOffline is the largest a for which five samples alternate by 2a. For
// a given swing the longest alternating chain is found by dynamic programming
// over all pairs; the candidates are all differences of two samples.
func fourSwingsOffline(x []float64) float64 {
	low, high := 0.0, 0.0
	for i := range x {
		for j := range x[:i] {
			high = max(high, math.Abs(x[i]-x[j]))
		}
	}
	has := func(swing float64) bool {
		// lowest[k][d] is the least (d = 0) or greatest (d = 1) value at which a
		// chain of k swings can end so far: the best place to swing up or down from.
		var ends [4][2]float64
		for k := range ends {
			ends[k] = [2]float64{math.Inf(1), math.Inf(-1)}
		}
		for _, v := range x {
			for k := 4; k >= 1; k-- {
				if v-ends[k-1][0] >= swing {
					if k == 4 {
						return true
					}
					ends[k][1] = max(ends[k][1], v)
				}
				if ends[k-1][1]-v >= swing {
					if k == 4 {
						return true
					}
					ends[k][0] = min(ends[k][0], v)
				}
			}
			ends[0] = [2]float64{min(ends[0][0], v), max(ends[0][1], v)}
		}
		return false
	}
	for range 60 {
		if mid := (low + high) / 2; has(mid) {
			low = mid
		} else {
			high = mid
		}
	}
	return math.Round(low*1e6) / 2e6
}

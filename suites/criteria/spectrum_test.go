package criteria_test

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/suites/criteria"
)

// Values: check-values SP-01 to SP-14, recomputed there; tolerance 1e-9.
var _ = Describe("The spectra of hunting", func() {
	const tolerance = 1e-9
	record := func(n int, f func(n float64) float64) []float64 {
		x := make([]float64, n)
		for i := range x {
			x[i] = f(float64(i))
		}
		return x
	}
	sine := func(period float64) func(float64) float64 {
		return func(n float64) float64 { return math.Sin(2 * math.Pi * n / period) }
	}
	tone := record(64, func(n float64) float64 { return 1 + 3*sine(64.0/5)(n) })

	It("have a tone in its bin and nothing elsewhere (SP-01, SP-02, SP-03)", func() {
		x := criteria.Transform(tone)
		Expect(cmplx.Abs(x[0] - 64)).To(BeNumerically("<", 1e-12))
		Expect(cmplx.Abs(x[5] - complex(0, -96))).To(BeNumerically("<", 1e-12))
		for k := range 33 {
			if k != 0 && k != 5 {
				Expect(cmplx.Abs(x[k])).To(BeNumerically("<", 1e-12))
			}
		}
		Expect(2 * cmplx.Abs(x[5]) / 64).To(BeNumerically("~", 3, tolerance))
		power, none := criteria.Powers(tone, make([]float64, 64), 5)
		Expect(power).To(BeNumerically("~", 9216, tolerance))
		Expect(none).To(BeNumerically("~", 0, tolerance))
	})
	It("keep the energy of the record (SP-04, SP-05)", func() {
		var inTime, inBins float64
		x := criteria.Transform(tone)
		for i := range tone {
			inTime += tone[i] * tone[i]
			inBins += real(x[i])*real(x[i]) + imag(x[i])*imag(x[i])
		}
		Expect(inTime).To(BeNumerically("~", 352, tolerance))
		Expect(inBins / 64).To(BeNumerically("~", 352, tolerance))
		Expect(math.Sqrt(inBins / 64 / 64)).To(BeNumerically("~", 2.345207880, tolerance))
	})
	It("leak between bins as the window says (SP-06, SP-07, SP-08)", func() {
		between := record(64, sine(64/5.5))
		x := criteria.Transform(between)
		for i, want := range []float64{0.242864501, 0.664073918, 0.611817364, 0.189637162} {
			Expect(2 * cmplx.Abs(x[4+i]) / 64).To(BeNumerically("~", want, tolerance))
		}
		window := criteria.Hann(64)
		var sum, squares float64
		for i, w := range window {
			between[i] *= w
			sum += w
			squares += w * w
		}
		x = criteria.Transform(between)
		for i, want := range []float64{0.170139253, 0.848550350, 0.849035742, 0.169602804} {
			Expect(2 * cmplx.Abs(x[4+i]) / sum).To(BeNumerically("~", want, tolerance))
		}
		Expect(sum / 64).To(BeNumerically("~", 0.5, tolerance))
		Expect(64 * squares / sum / sum).To(BeNumerically("~", 1.5, tolerance))
	})
	It("have the odd harmonics of a square wave (SP-09, SP-10)", func() {
		x := criteria.Transform(record(1024, func(n float64) float64 {
			if int(n)%128 < 64 {
				return 1
			}
			return -1
		}))
		for m, want := range map[int]float64{1: 1.273367385, 3: 0.424796919, 5: 0.255288192} {
			Expect(2 * cmplx.Abs(x[8*m]) / 1024).To(BeNumerically("~", want, tolerance))
		}
		Expect(2 * cmplx.Abs(x[8]) / 1024).To(BeNumerically("~", 4/math.Pi, 2e-4))
	})
	It("lead to the correlation of a sine with itself (SP-11, SP-12, SP-13)", func() {
		// Of 200 samples, padded so that nothing wraps round.
		padded := append(record(200, sine(20)), make([]float64, 312)...)
		power := record(512, func(float64) float64 { return 0 })
		for k, v := range criteria.Transform(padded) {
			power[k] = real(v)*real(v) + imag(v)*imag(v)
		}
		correlation := criteria.Transform(power)
		at := func(lag int) float64 { return real(correlation[lag]) / real(correlation[0]) }
		for lag, want := range map[int]float64{0: 1, 10: -0.95, 20: 0.90, 40: 0.80} {
			Expect(at(lag)).To(BeNumerically("~", want, tolerance))
		}
		best := 5
		for lag := 5; lag <= 35; lag++ {
			if at(lag) > at(best) {
				best = lag
			}
		}
		Expect(best).To(Equal(20))
		for lag, want := range map[int]float64{0: 1, 5: 0, 10: -1, 20: 1} {
			Expect(at(lag) + at(200-lag)*float64(min(lag, 1))).To(BeNumerically("~", want, tolerance))
		}
	})
	It("agree with the plain sum for any record and both at once", func() {
		random := rand.New(rand.NewPCG(1, 2))
		for _, n := range []int{4, 8, 64, 512} {
			a := record(n, func(float64) float64 { return random.NormFloat64() })
			b := record(n, func(float64) float64 { return random.NormFloat64() })
			for k := range n {
				p, q := criteria.Powers(a, b, k)
				Expect(p).To(BeNumerically("~", plainPower(a, k), 1e-8))
				Expect(q).To(BeNumerically("~", plainPower(b, k), 1e-8))
			}
		}
	})
})

// plainPower is |X[k]|^2 by the definition.
func plainPower(x []float64, k int) float64 {
	var re, im float64
	for n, v := range x {
		angle := 2 * math.Pi * float64(n*k%len(x)) / float64(len(x))
		re += v * math.Cos(angle)
		im += v * math.Sin(angle)
	}
	return re*re + im*im
}

var _ = Describe("Suspicion of hunting", func() {
	p := criteria.Hunting{BelowW: 150, GoneWithin: 2 * time.Minute}
	judge := func(d time.Duration, load, north func(t float64) float64) criteria.Result {
		m := must(criteria.NewHunting(p, step))
		c := calmSite()
		c.load, c.north = load, north
		c.run(d, m)
		r := m.Result()
		expectSound(r)
		return r
	}
	// hob switches 2 kW on and off each 20 s, until a time.
	hob := func(until float64) func(float64) float64 {
		return func(t float64) float64 {
			if t < until && math.Mod(t, 40) < 20 {
				return 3000
			}
			return 1000
		}
	}
	// follow answers a load with a lag, and adds a swing.
	follow := func(load func(float64) float64, tau float64, swing func(t float64) float64) func(float64) float64 {
		u := -load(0)
		return func(t float64) float64 {
			u += (-load(t) - u) * 0.1 / tau
			return u + swing(t)
		}
	}
	swing := func(w, until float64) func(float64) float64 {
		return func(t float64) float64 {
			if t > until {
				return 0
			}
			return w * math.Sin(2*math.Pi*t/9.8)
		}
	}

	It("does not arise from batteries that follow a hob, however slowly", func() {
		for _, tau := range []float64{0.5, 2, 8, 30, 100} {
			load := hob(1e9)
			r := judge(time.Hour, load, follow(load, tau, constant(0)))
			Expect(r.Status).To(Equal(criteria.Undetermined))
			Expect(figure(r, "suspicious_blocks")).To(BeZero(), "%v s: %s", tau, r.Detail)
			Expect(r.Clauses[1].Status).To(Equal(criteria.Undetermined)) // by the first clause
			Expect(r.Detail).NotTo(ContainSubstring("suspicion"))
		}
	})

	It("arises from a swing that the load does not have, and leaves the status undetermined", func() {
		load := hob(1e9)
		r := judge(30*time.Minute, load, follow(load, 2, swing(500, 1e9)))
		Expect(r.Status).To(Equal(criteria.Undetermined))
		Expect(r.Observed).To(BeNumerically("~", 500, 25))
		Expect(r.Limit).To(Equal(150.0))
		Expect(r.Margin).To(BeNumerically("<", 0))
		Expect(figure(r, "suspected_period")).To(BeNumerically("~", 9.8, 0.02))
		Expect(r.Detail).To(HavePrefix("suspicion: from 0:"))
	})

	It("needs a swing above the bound", func() {
		load := hob(1e9)
		r := judge(30*time.Minute, load, follow(load, 2, swing(140, 1e9)))
		Expect(figure(r, "suspicious_blocks")).To(BeZero())
		Expect(figure(r, "suspicion")).To(BeNumerically("~", 140, 10))
	})

	It("is cleared by a quiet tail in which the swing is gone", func() {
		load := hob(1800)
		r := judge(40*time.Minute, load, follow(load, 2, swing(500, 1800)))
		Expect(r.Status).To(Equal(criteria.Passed), r.Detail)
		Expect(figure(r, "suspicious_blocks")).To(BeNumerically(">", 5))
		Expect(figure(r, "suspicions_decided")).To(BeNumerically(">", 0))
		Expect(r.Clauses[1].Status).To(Equal(criteria.Passed))
	})

	It("is confirmed by one in which it goes on", func() {
		load := hob(1800)
		r := judge(40*time.Minute, load, follow(load, 2, swing(500, 1e9)))
		Expect(r.Status).To(Equal(criteria.Failed))
		Expect(r.Observed).To(BeNumerically("~", 500, 5))
		Expect(r.Clauses[0].Status).To(Equal(criteria.Failed))
	})

	It("is not cleared by a quiet tail without work for the batteries", func() {
		load := func(t float64) float64 {
			if t > 1800 {
				return 0
			}
			return hob(1800)(t)
		}
		r := judge(40*time.Minute, load, follow(load, 2, swing(500, 1800)))
		Expect(r.Status).To(Equal(criteria.Undetermined))
	})

	It("does not arise from what happens once, such as the start of charging", func() {
		load := hob(1e9)
		steps := func(t float64) float64 {
			switch {
			case t < 900:
				return 0
			case t < 2000:
				return 5000
			}
			return -2000
		}
		r := judge(time.Hour, load, follow(load, 2, steps))
		Expect(figure(r, "suspicious_blocks")).To(BeZero(), r.Detail)
	})

	It("names the period of a marginal loop (SP-14)", func() {
		// d = 2 samples of delay and g = 0.618033988750: the dominant period is 10 samples, here of 1 s.
		load := hob(1e9)
		var u float64
		var seen [3]float64
		tick := 0
		r := judge(30*time.Minute, load, func(t float64) float64 {
			if tick++; tick%10 == 0 {
				copy(seen[:], seen[1:])
				seen[2] = load(t) + u
				u -= 0.618033988750 * seen[0]
			}
			return u
		})
		Expect(r.Status).To(Equal(criteria.Undetermined))
		Expect(figure(r, "suspected_period")).To(BeNumerically("~", 10, 0.02))
	})

	It("agrees with the definition evaluated offline", func() {
		random := rand.New(rand.NewPCG(3, 4))
		for range 3 {
			const n, half = 512, 256
			blocks := 5
			g, load := make([]float64, half*(blocks+1)), make([]float64, half*(blocks+1))
			period := 3 + 40*random.Float64()
			m := must(criteria.NewHunting(criteria.Hunting{BelowW: 1e6, GoneWithin: time.Minute}, 500*time.Millisecond))
			for i := range g {
				load[i] = 200 * random.NormFloat64()
				g[i] = load[i] + 100*random.NormFloat64() + 300*math.Sin(math.Pi*float64(i)/period)
				m.Observe(&criteria.Sample{Tick: int64(i + 1), StepS: 0.5, GridW: g[i], NetLoadW: load[i]})
			}
			excess := make([][]float64, blocks)
			for b := range blocks {
				var power [2][half]float64
				for which, x := range [][]float64{g, load} {
					block := append([]float64(nil), x[half*b:half*b+n]...)
					mean := 0.0
					for _, v := range block {
						mean += v / n
					}
					for i := range block {
						block[i] = (block[i] - mean) * (0.5 - 0.5*math.Cos(2*math.Pi*float64(i)/n))
					}
					for k := range half {
						power[which][k] = plainPower(block, k) * 16 / n / n / 1.5
					}
				}
				excess[b] = make([]float64, half)
				for k := 4; k < half-1; k++ {
					for j := k - 1; j <= k+1; j++ {
						excess[b][k] += power[0][j] - 9*power[1][j]
					}
					excess[b][k] = math.Sqrt(max(0, excess[b][k]))
				}
			}
			want := 0.0
			for b := 2; b < blocks; b++ {
				for k := 4; k < half-1; k++ {
					near := func(x []float64) float64 { return max(x[k-1], x[k], x[k+1]) }
					want = max(want, min(excess[b][k], near(excess[b-1]), near(excess[b-2])))
				}
			}
			Expect(want).To(BeNumerically(">", 100))
			Expect(figure(m.Result(), "suspicion")).To(BeNumerically("~", want, 1e-6))
		}
	})
})

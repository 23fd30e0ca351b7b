package criteria_test

import (
	"fmt"
	"math"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"

	"kilter/suites/criteria"
)

// drawPhases gives a random trace one to three phases.
func drawPhases(t *rapid.T, trace []criteria.Sample) {
	n := rapid.IntRange(1, 3).Draw(t, "phases")
	amps := rapid.Map(rapid.IntRange(0, 60), func(i int) float64 { return float64(i) })
	for i := range trace {
		for range n {
			c := amps.Draw(t, "current")
			trace[i].Phases = append(trace[i].Phases, criteria.PhaseSample{
				CurrentA: c, LeastA: min(c, amps.Draw(t, "least")), MostA: max(c, amps.Draw(t, "most")),
			})
		}
	}
}

// current runs a supply whose L2 carries a current over time, and the others 5 A.
func current(m criteria.Monitor, d time.Duration, l2 func(t float64) criteria.PhaseSample) criteria.Result {
	c := calmSite()
	c.edit = func(s *criteria.Sample) {
		s.FuseA = 32
		s.Phases = append(s.Phases[:0], criteria.PhaseSample{CurrentA: 5}, l2(float64(s.Tick)*0.1), criteria.PhaseSample{CurrentA: 5})
		s.VehicleCharging, s.ChargerW = true, 3680
	}
	c.run(d, m)
	r := m.Result()
	expectSound(r)
	return r
}

var _ = Describe("Supply current", func() {
	p := criteria.SupplyCurrent{Except: 2 * time.Second}
	pulse := func(d float64, least float64) func(t float64) criteria.PhaseSample {
		return func(t float64) criteria.PhaseSample {
			if t > 10.05 && t < 10.05+d {
				return criteria.PhaseSample{CurrentA: 40, LeastA: least, MostA: 45}
			}
			return criteria.PhaseSample{CurrentA: 20, MostA: 45}
		}
	}

	It("judges each phase by the fuse, and tolerates the excepted time", func() {
		r := current(must(criteria.NewSupplyCurrent(p, step)), time.Minute, pulse(2, 0))
		Expect(r.Status).To(Equal(criteria.Passed))
		Expect(r.Margin).To(Equal(12.0))

		r = current(must(criteria.NewSupplyCurrent(p, step)), time.Minute, pulse(2.1, 0))
		Expect(r.Status).To(Equal(criteria.Failed))
		Expect(r.Margin).To(Equal(-8.0))
		Expect(r.Limit).To(Equal(32.0))
		Expect(r.FirstBreachS).To(BeNumerically("~", 10.1, 1e-9))
		Expect(figure(r, "worst_phase")).To(Equal(2.0))
		Expect(r.Detail).To(Equal("phase L2 carried 40.0 A; a vehicle took 3680 W when the excess was largest, at 0:00:10.1"))
	})

	It("forgives what the batteries could not have prevented, and no more", func() {
		r := current(must(criteria.NewSupplyCurrent(p, step)), time.Minute, pulse(10, 40))
		Expect(r.Status).To(Equal(criteria.Passed))
		Expect(r.Margin).To(BeZero())
		r = current(must(criteria.NewSupplyCurrent(p, step)), time.Minute, pulse(10, 36))
		Expect(r.Margin).To(Equal(-4.0))
	})

	It("is not exercised where the current is unknown, or the batteries cannot reach the bound", func() {
		r := current(must(criteria.NewSupplyCurrent(p, step)), time.Minute, func(float64) criteria.PhaseSample {
			return criteria.PhaseSample{CurrentA: 20, MostA: 31}
		})
		Expect(r.Status).To(Equal(criteria.NotExercised))
		m := must(criteria.NewSupplyCurrent(p, step))
		calmSite().run(time.Minute, m)
		Expect(m.Result().Status).To(Equal(criteria.NotExercised))
	})

	It("agrees with the definition evaluated offline on random traces", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			trace := drawTrace(t)
			drawPhases(t, trace)
			k := rapid.IntRange(1, 12).Draw(t, "window")
			below := float64(rapid.IntRange(1, 60).Draw(t, "below"))
			r := feed(must(criteria.NewSupplyCurrent(criteria.SupplyCurrent{BelowA: below, Except: time.Duration(k-1) * step}, step)), trace)
			worst, exercised, judged := math.Inf(-1), 0, false
			for j := range trace[0].Phases {
				var excess, violable []float64
				for _, s := range trace {
					p := s.Phases[j]
					limit := max(below, p.LeastA)
					excess = append(excess, p.CurrentA-limit)
					violable = append(violable, map[bool]float64{true: 1}[p.MostA > limit])
				}
				w, _, ok := largestWindowMin(excess, k)
				worst, judged = max(worst, w), ok
				exercised += fullWindows(violable, k)
			}
			want := criteria.NotExercised
			switch {
			case judged && worst > 0:
				want = criteria.Failed
			case exercised > 0:
				want = criteria.Passed
			}
			if r.Status != want || r.Exercised != exercised || r.Valid != judged || (judged && r.Margin != -worst) {
				t.Fatalf("got %+v, want %s, %d exercised, margin %v", r, want, exercised, -worst)
			}
		})
	})
})

var _ = Describe("Fuse heating", func() {
	gg32 := func(below float64) criteria.Monitor {
		p, err := criteria.FuseGG(32, below)
		Expect(err).NotTo(HaveOccurred())
		return must(criteria.NewFuseHeating(p, step))
	}
	steady := func(a, least float64) func(float64) criteria.PhaseSample {
		return func(float64) criteria.PhaseSample { return criteria.PhaseSample{CurrentA: a, LeastA: least, MostA: 60} }
	}

	It("passes 1.25 times the rating for an hour, and fails 1.6 times", func() {
		// IEC 60269-1 table 2: no melting, melting within the conventional time; check-values OC-01, OC-11.
		r := current(gg32(1), time.Hour, steady(40, 0))
		Expect(r.Status).To(Equal(criteria.Passed))
		Expect(r.Observed).To(BeNumerically("~", 100, 1e-6))
		r = current(gg32(1), time.Hour, steady(51.2, 0))
		Expect(r.Status).To(Equal(criteria.Failed))
		Expect(r.FirstBreachS).To(BeNumerically("<", 3600))
		Expect(r.Detail).To(HavePrefix("the fuse of L2 reached 164 % of the heat that may melt it"))
	})

	It("lets every tabulated fuse carry its gate of 10 s and no longer", func() {
		// IEC 60269-1 table 3, I(10 s) min; check-values OC-04.
		for rated, gate := range map[float64]float64{16: 33, 20: 42, 25: 52, 32: 75, 63: 160, 100: 290} {
			for d, want := range map[time.Duration]criteria.Status{10 * time.Second: criteria.Passed, 10*time.Second + step: criteria.Failed} {
				p, err := criteria.FuseGG(rated, 1)
				Expect(err).NotTo(HaveOccurred())
				r := current(must(criteria.NewFuseHeating(p, step)), d, steady(gate, 0))
				Expect(r.Status).To(Equal(want), "%v A for %v: %s", gate, d, r.Detail)
			}
		}
	})

	It("heats as the thermal replica does", func() {
		// IEC 60255-149, t/tau = ln(i2 / (i2 - k2)) from cold, pick-up k = 1.13; check-values OC-15.
		for i, want := range map[float64]float64{1.2: 2.178034883, 1.45: 0.934771997, 2: 0.384523424, 2.55: 0.218617095, 5: 0.052426568} {
			// A gate at twice the rating makes tau = gate time / 0.384523424.
			gate := 200 * time.Second
			tau := gate.Seconds() / 0.384523424
			p := criteria.FuseHeating{Below: 1, CarriesA: 1.13 * 32, GateA: 64, GateTime: gate}
			r := current(must(criteria.NewFuseHeating(p, step)), 30*time.Minute, steady(32*i, 0))
			Expect(r.FirstBreachS).To(BeNumerically("~", want*tau+0.05, 0.0501), fmt.Sprint(i))
		}
	})

	It("charges the fuse with what the batteries add, and not with what they could not prevent", func() {
		Expect(current(gg32(0.8), time.Hour, steady(45, 45)).Status).To(Equal(criteria.Passed))
		r := current(gg32(0.8), time.Hour, steady(48, 45))
		Expect(r.Status).To(Equal(criteria.Failed))
		Expect(r.Limit).To(BeNumerically("~", 100*45*45/1600.0, 1e-6))
		Expect(r.Margin).To(BeNumerically("~", 100*(45*45-48*48)/1600.0, 1e-6))
	})

	It("is not exercised by currents that the fuse always carries", func() {
		r := current(gg32(1), time.Minute, func(float64) criteria.PhaseSample { return criteria.PhaseSample{CurrentA: 39, MostA: 40} })
		Expect(r.Status).To(Equal(criteria.NotExercised))
	})

	It("refuses fuses that it does not know", func() {
		_, err := criteria.FuseGG(10, 1)
		Expect(err).To(MatchError("fuse_heating: fuse is 10 A, but the gates of gG fuses are known from 16 to 100 A"))
		_, err = criteria.NewFuseHeating(criteria.FuseHeating{Below: 1, CarriesA: 40, GateA: 40, GateTime: time.Second}, step)
		Expect(err).To(MatchError("fuse_heating: gate is 40 A, but must be a finite number above carries, 40 A"))
	})

	It("agrees with the sum over the whole history on random traces", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			trace := drawTrace(t)
			drawPhases(t, trace)
			below := 0.1 * float64(rapid.IntRange(1, 10).Draw(t, "below"))
			p := criteria.FuseHeating{Below: below, CarriesA: 20, GateA: 40, GateTime: 2 * time.Second}
			r := feed(must(criteria.NewFuseHeating(p, step)), trace)
			a := math.Exp(-0.1 / (2 / math.Log(1600.0/1200)))
			worst, exercised := math.Inf(1), 0
			for n, s := range trace {
				put := false
				for j := range s.Phases {
					heat, least := 0.0, 0.0
					for i, past := range trace[:n+1] {
						w := (1 - a) * math.Pow(a, float64(n-i)) / 400
						heat += w * past.Phases[j].CurrentA * past.Phases[j].CurrentA
						least += w * past.Phases[j].LeastA * past.Phases[j].LeastA
					}
					worst = min(worst, max(below, least)-heat)
					put = put || s.Phases[j].MostA > 20
				}
				if put {
					exercised++
				}
			}
			if math.Abs(r.Margin-100*worst) > 1e-7 || (r.Status == criteria.Failed) != (worst < -1e-9) {
				t.Fatalf("got %+v, want margin %v", r, 100*worst)
			}
			if r.Status != criteria.Failed && r.Exercised != exercised {
				t.Fatalf("got %d exercised, want %d", r.Exercised, exercised)
			}
		})
	})
})

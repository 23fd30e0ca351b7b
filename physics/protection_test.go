package physics

import (
	"math"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"
)

var _ = Describe("a gG fuse", func() {
	mustFuse := func(ratedA, position, stepS float64) Fuse {
		GinkgoHelper()
		f, err := NewFuse(ratedA, position, stepS)
		Expect(err).NotTo(HaveOccurred())
		return f
	}

	It("OC-01 to OC-03: has the conventional currents and times of IEC 60269-1 table 2", func() {
		// OC-01, OC-02 published (secondary); OC-03 from memory above 1 h.
		for a, hours := range map[float64]float64{16: 1, 63: 1, 80: 2, 160: 2, 400: 3, 630: 4} {
			Expect(FuseConventionalS(a)).To(Equal(3600 * hours))
		}
		Expect(FuseFusingA(10)).To(BeNumerically("~", 19, 1e-12))
		Expect(FuseNonFusingA(10)).To(BeNumerically("~", 15, 1e-12)) // from memory
		for _, a := range []float64{16, 25, 63, 80, 100} {
			Expect(FuseNonFusingA(a)).To(BeNumerically("~", 1.25*a, 1e-12))
			for _, position := range []float64{0, 0.5, 1} {
				f := mustFuse(a, position, 1)
				Expect(f.PreArcingS(1.25 * a)).To(BeNumerically(">=", FuseConventionalS(a)))
				Expect(f.PreArcingS(1.6*a + 1e-6)).To(BeNumerically("<=", FuseConventionalS(a)))
			}
		}
	})

	DescribeTable("OC-04, OC-05: keeps to the gates and Joule integrals of IEC 60269-1 tables 3 and 7 (published, secondary)",
		func(ratedA, min10, max5, min01, max01, preArcing, operating float64) {
			earliest, latest := mustFuse(ratedA, 0, 1), mustFuse(ratedA, 1, 1)
			Expect(earliest.PreArcingS(min10)).To(BeNumerically("~", 10, 1e-9))
			Expect(latest.PreArcingS(max5)).To(BeNumerically("~", 5, 1e-9))
			Expect(earliest.PreArcingS(min01)).To(BeNumerically("~", 0.1, 1e-9))
			Expect(latest.PreArcingS(max01)).To(BeNumerically("~", 0.1, 1e-9))
			middle := mustFuse(ratedA, 0.5, 1)
			Expect(middle.PreArcingS(min10)).To(BeNumerically(">", 10))
			Expect(middle.PreArcingS(max5)).To(BeNumerically("<", 5))
			Expect(middle.PreArcingS(min01)).To(BeNumerically(">", 0.1))
			Expect(middle.PreArcingS(max01)).To(BeNumerically("<", 0.1))
			for _, kiloamps := range []float64{1, 5} { // beyond 10 ms the Joule integral is constant
				i := 1000 * kiloamps
				if t := earliest.PreArcingS(i); t < 0.01 && preArcing > 0 {
					Expect(JouleIntegral(i, t)).To(BeNumerically("~", preArcing, 1e-6*preArcing))
				}
				if t := latest.PreArcingS(i); t < 0.01 && operating > 0 {
					Expect(JouleIntegral(i, t)).To(BeNumerically("~", operating, 1e-6*operating))
				}
			}
		},
		Entry(nil, 16.0, 33.0, 65.0, 85.0, 150.0, 300.0, 1000.0), Entry(nil, 20.0, 42.0, 85.0, 110.0, 200.0, 0.0, 0.0),
		Entry(nil, 25.0, 52.0, 110.0, 150.0, 260.0, 0.0, 0.0), Entry(nil, 32.0, 75.0, 150.0, 200.0, 350.0, 1800.0, 5000.0),
		Entry(nil, 63.0, 160.0, 320.0, 450.0, 820.0, 9000.0, 27000.0), Entry(nil, 100.0, 290.0, 580.0, 820.0, 1450.0, 27000.0, 86000.0),
	)

	It("OC-11: 1.25 and 1.6 times the rated current (recomputed)", func() {
		for a, x := range map[float64][2]float64{32: {40, 51.2}, 63: {78.75, 100.8}, 100: {125, 160}} {
			Expect(FuseNonFusingA(a)).To(BeNumerically("~", x[0], 1e-9))
			Expect(FuseFusingA(a)).To(BeNumerically("~", x[1], 1e-9))
		}
	})

	It("melts after its pre-arcing time at a constant current, to one tick", func() {
		f := mustFuse(63, 0.5, 0.1)
		n := 0
		for !f.Step(150) {
			n++
		}
		Expect(float64(n+1) / 10).To(BeNumerically("~", f.PreArcingS(150), 0.1))
		Expect(f.Step(0)).To(BeTrue())
	})

	It("never melts under its conventional current, and cools there", func() {
		f := mustFuse(63, 0, 1)
		for range 60 {
			f.Step(100)
		}
		warm := f.Heat
		Expect(warm).To(BeNumerically(">", 0))
		for range 36000 {
			Expect(f.Step(78)).To(BeFalse())
		}
		Expect(f.Heat).To(BeNumerically("<", 1e-9))
	})

	It("refuses ratings without gates", func() {
		_, err := NewFuse(125, 0.5, 1)
		Expect(err).To(MatchError("fuse of 125 A: the gates are known from 16 to 100 A"))
		_, err = NewFuse(63, 2, 1)
		Expect(err).To(MatchError(ContainSubstring("position 2")))
	})

	It("is monotone: more current melts it no later, and a later link no sooner, at any rating", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			a := rapid.Float64Range(16, 100).Draw(t, "rated")
			p, q := rapid.Float64Range(0, 1).Draw(t, "p"), rapid.Float64Range(0, 1).Draw(t, "q")
			f, g := mustFuse(a, min(p, q), 1), mustFuse(a, max(p, q), 1)
			i, j := rapid.Float64Range(1, 100).Draw(t, "i"), rapid.Float64Range(1, 100).Draw(t, "j")
			i, j = min(i, j)*a, max(i, j)*a
			if f.PreArcingS(j) > f.PreArcingS(i)*(1+1e-12) || f.PreArcingS(i) > g.PreArcingS(i)*(1+1e-12) {
				t.Fatalf("%v A: %v s, %v A: %v s, later link %v s", i, f.PreArcingS(i), j, f.PreArcingS(j), g.PreArcingS(i))
			}
		})
	})
})

var _ = Describe("a miniature circuit breaker", func() {
	It("OC-06, OC-07: has the tests and bands of IEC 60898-1 table 7 (published, secondary)", func() {
		for a, c := range map[float64][2]float64{16: {3600, 60}, 40: {3600, 120}, 80: {7200, 120}} {
			Expect(BreakerEarliestS(TypeB, a, 1.13*a)).To(Equal(c[0]))
			Expect(BreakerLatestS(TypeB, a, 1.45*a)).To(Equal(c[0]))
			Expect(BreakerEarliestS(TypeB, a, 2.55*a)).To(Equal(1.0))
			Expect(BreakerLatestS(TypeB, a, 2.55*a)).To(Equal(c[1]))
		}
		for t, band := range map[BreakerType][2]float64{TypeB: {3, 5}, TypeC: {5, 10}, TypeD: {10, 20}} {
			low, high := t.Band()
			Expect([2]float64{low, high}).To(Equal(band))
			Expect(BreakerLatestS(t, 16, 16*high)).To(Equal(0.1))
			Expect(BreakerLatestS(t, 16, 16*high-0.1)).To(Equal(60.0))
		}
		Expect(TypeC.String()).To(Equal("C"))
	})

	It("OC-08, OC-09: C16 trips between the earliest and the latest time (published, secondary)", func() {
		for i, s := range map[float64]float64{22: math.Inf(1), 24: 3600, 48: 60, 159: 60, 160: 0.1, 1000: 0.1} {
			Expect(BreakerLatestS(TypeC, 16, i)).To(Equal(s), "%g A", i)
		}
		for i, s := range map[float64]float64{17: 3600, 20: 1, 48: 0.1, 79: 0.1, 80: 0} {
			Expect(BreakerEarliestS(TypeC, 16, i)).To(Equal(s), "%g A", i)
		}
	})

	It("OC-10: 1.13, 1.45 and 2.55 times the rated current (recomputed)", func() {
		for a, x := range map[float64][3]float64{16: {18.08, 23.2, 40.8}, 32: {36.16, 46.4, 81.6}, 63: {71.19, 91.35, 160.65}} {
			Expect(BreakerNonTripping * a).To(BeNumerically("~", x[0], 1e-9))
			Expect(BreakerTripping * a).To(BeNumerically("~", x[1], 1e-9))
			Expect(BreakerWarmTest * a).To(BeNumerically("~", x[2], 1e-9))
		}
	})

	It("trips between its earliest and its latest time at any current, type, rating and position", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			kind := rapid.SampledFrom([]BreakerType{TypeB, TypeC, TypeD}).Draw(t, "type")
			rated := rapid.SampledFrom([]float64{6, 16, 32, 63, 80}).Draw(t, "rated")
			i := rapid.SampledFrom([]float64{1.0, 1.13, 1.2, 1.45, 1.46, 2, 2.55, 2.56, 3, 4.9, 5, 7, 9.9, 10, 15, 19.9, 20, 50}).Draw(t, "current")
			b, err := NewBreaker(kind, rated, rapid.Float64Range(0, 1).Draw(t, "position"), 0.1)
			if err != nil {
				t.Fatal(err)
			}
			earliest, latest := BreakerEarliestS(kind, rated, i*rated), BreakerLatestS(kind, rated, i*rated)
			at := math.Inf(1)
			for n := 1; n <= 80000; n++ {
				if b.Step(i * rated) {
					at = float64(n) * 0.1
					break
				}
			}
			if at < earliest-1e-9 || at > latest+0.1+1e-9 { // the tick in which it happens
				t.Fatalf("tripped after %v s, earliest %v, latest %v", at, earliest, latest)
			}
		})
	})

	It("refuses what no breaker is", func() {
		_, err := NewBreaker(TypeB, 0, 0.5, 0.1)
		Expect(err).To(MatchError(ContainSubstring("the rated current must be more than 0")))
		_, err = NewBreaker(TypeB, 16, -1, 0.1)
		Expect(err).To(MatchError(ContainSubstring("position -1")))
	})

	It("trips at once in its band, and no sooner than 0.1 s", func() {
		b, err := NewBreaker(TypeB, 16, 0.5, 0.01) // 4 In at this position
		Expect(err).NotTo(HaveOccurred())
		n := 1
		for ; !b.Step(65); n++ {
		}
		Expect(n).To(Equal(10))
		b, _ = NewBreaker(TypeB, 16, 0.5, 0.01)
		for range 20 {
			Expect(b.Step(63)).To(BeFalse())
		}
	})

	It("stays warm over a reset", func() {
		b, err := NewBreaker(TypeB, 16, 0.5, 0.1)
		Expect(err).NotTo(HaveOccurred())
		cold := 0
		for !b.Step(45) {
			cold++
		}
		b.Reset()
		warm := 0
		for !b.Step(45) {
			warm++
		}
		Expect(warm).To(BeNumerically("<", cold/2))
	})
})

var _ = Describe("the heating of conductors", func() {
	It("OC-12 to OC-14: Joule integrals and what cables withstand (recomputed)", func() {
		Expect(JouleIntegral(100, 0.1)).To(BeNumerically("~", 1000, 1e-12*1000))
		for s, withstand := range map[float64]float64{1.5: 29756.25, 2.5: 82656.25, 4: 211600, 6: 476100} {
			Expect(CableWithstand(CopperPVC, s)).To(BeNumerically("~", withstand, 1e-12*withstand))
		}
		Expect(CableWithstandS(CopperPVC, 2.5, 1000)).To(BeNumerically("~", 0.08265625, 1e-12))
	})

	DescribeTable("OC-15: a cold replica with pick-up 1.13 trips in t / tau (recomputed from IEC 60255-149)",
		func(current, ratio float64) {
			Expect(ReplicaTripS(1, current, 1.13, 0)).To(BeNumerically("~", ratio, 1e-8))
			r := NewThermalReplica(100, 1.13, 0.01)
			n := 1
			for ; !r.Step(current); n++ {
			}
			Expect(float64(n) / 100).To(BeNumerically("~", 100*ratio, 0.0101))
		},
		Entry(nil, 1.2, 2.178034883), Entry(nil, 1.45, 0.934771997), Entry(nil, 2.0, 0.384523424),
		Entry(nil, 2.55, 0.218617095), Entry(nil, 5.0, 0.052426568),
	)

	It("knows a current that is carried for ever, and a replica that is over its pick-up", func() {
		Expect(ReplicaTripS(10, 1.1, 1.13, 0)).To(Equal(math.Inf(1)))
		Expect(ReplicaTripS(10, 0.5, 1.13, 1.3)).To(BeZero())
	})

	It("never lets a replica be negative or pass the largest current's heat, and agrees between ticks", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			coarse, fine := NewThermalReplica(30, 1.1, 0.1), NewThermalReplica(30, 1.1, 0.01)
			most := 0.0
			for range 30 {
				i := rapid.Float64Range(-10, 10).Draw(t, "current")
				most = max(most, i*i)
				coarse.Step(i)
				for range 10 {
					fine.Step(i)
				}
				if coarse.Theta < 0 || coarse.Theta > most || math.Abs(coarse.Theta-fine.Theta) > 1e-12*most+1e-15 {
					t.Fatalf("heating %v, with fine ticks %v", coarse.Theta, fine.Theta)
				}
			}
		})
	})

	It("allocates nothing in protection", func() {
		f, _ := NewFuse(63, 0.5, 0.1)
		b, _ := NewBreaker(TypeC, 16, 0.5, 0.1)
		Expect(allocations(func() {
			for range 1000 {
				f.Step(90)
				b.Step(17)
			}
		})).To(BeZero())
	})
})

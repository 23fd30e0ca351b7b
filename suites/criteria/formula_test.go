package criteria_test

import (
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/suites/criteria"
)

var _ = Describe("formula", func() {
	// judged runs a site on which the load is 2 kW from the 10th second on, for a time, and judges a sentence.
	judged := func(sentence string, lasts, run time.Duration) (criteria.Result, criteria.Monitor) {
		GinkgoHelper()
		c := calmSite()
		c.load = func(t float64) float64 {
			if t > 10 && t <= 10+lasts.Seconds() {
				return 2000
			}
			return 100
		}
		m := must(criteria.NewFormula(said("try", sentence), step))
		c.run(run, m)
		r := m.Result()
		expectSound(r)
		Expect(r.Name).To(Equal("formula.try"))
		Expect(r.Clauses[0].Formula).To(Equal(sentence), "it is its own definition")
		Expect(r.Unweighed).To(BeTrue(), "nobody can tell what the batteries could have done about it")
		Expect(r.FirstBreachS).To(BeNumerically("~", float64(m.Breach())*0.1, 1e-9))
		return r, m
	}
	const settles = "always (grid > 1 kW implies eventually within 5 s grid < 500 W)"

	It("passes with the margin of its worst instant, and counts the instants at which it asks for something", func() {
		r, m := judged(settles, 4*time.Second, time.Minute)
		Expect(r.Status).To(Equal(criteria.Passed))
		Expect(r.Margin).To(BeNumerically("~", 400, 1e-9))
		Expect(r.Exercised).To(Equal(40))
		Expect(m.Breach()).To(BeZero())
	})

	It("fails with the moment from which on it was violated", func() {
		r, m := judged(settles, 10*time.Second, time.Minute)
		Expect(r.Status).To(Equal(criteria.Failed))
		Expect(r.Margin).To(BeNumerically("~", -1000, 1e-9), "2 kW are 1 kW above the condition; what was to come missed by more")
		Expect(m.Breach()).To(BeEquivalentTo(101))
		Expect(r.FirstBreachS).To(BeNumerically("~", 10.1, 1e-9))
		Expect(r.Detail).To(Equal(settles))
	})

	It("is not exercised where no condition ever held", func() {
		r, _ := judged(settles, 0, time.Minute)
		Expect(r.Status).To(Equal(criteria.NotExercised))
		Expect(r.Detail).To(HavePrefix("what stands before implies never held: "))
	})

	It("is undetermined where the run ends before it is decided, and else decided though it ends", func() {
		r, _ := judged(settles, time.Minute, 13*time.Second)
		Expect(r.Status).To(Equal(criteria.Undetermined))
		Expect(r.Valid).To(BeFalse())
		Expect(r.Detail).To(HavePrefix("the run ended before it was decided: "))
		r, _ = judged(settles, 2*time.Second, 13*time.Second)
		Expect(r.Status).To(Equal(criteria.Passed), "what was asked for has come")
		r, _ = judged("always for 1 h grid < 1 kW", time.Second, time.Minute)
		Expect(r.Status).To(Equal(criteria.Failed))
		r, _ = judged("always for 1 h grid < 3 kW", time.Second, time.Minute)
		Expect(r.Status).To(Equal(criteria.Undetermined))
		r, _ = judged("eventually within 1 h grid > 1 kW", time.Second, time.Minute)
		Expect(r.Status).To(Equal(criteria.Passed))
		r, _ = judged("eventually within 1 h grid > 1 kW", 0, time.Minute)
		Expect(r.Status).To(Equal(criteria.Undetermined))
	})

	It("tells shares in percentage points", func() {
		r, _ := judged("always north.soc > 45 %", 0, time.Minute)
		Expect(r.Margin).To(BeNumerically("~", 5, 1e-9))
		Expect(r.Unit).To(Equal("%"))
	})

	It("blames the bench for a sample without the signals that it speaks of", func() {
		m := must(criteria.NewFormula(said("try", settles), step))
		c := calmSite()
		c.edit = func(s *criteria.Sample) {
			if at(s, 3) {
				s.Signals = s.Signals[:1]
			}
		}
		c.run(time.Minute, m)
		Expect(m.Result().Status).To(Equal(criteria.Undetermined))
		Expect(m.Result().Detail).To(ContainSubstring("bench fault: 1 samples"))
	})

	It("is refused where its times are no multiples of the step", func() {
		_, err := criteria.NewFormula(said("try", "always for 250 ms grid < 1 kW"), step)
		Expect(err).To(MatchError("formula.try: column 1: found a time of 250ms, wanted a multiple of the step of 100ms"))
	})
})

package learn

import (
	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

// knownTwin is a twin of which all is told but what the caller takes away.
func knownTwin(seed uint64) *Result {
	w := newTwin(seed, 1, 900)
	r := &Result{Window: Window{0, len(w.record.GridW), w.record}, rest: w.record.restW()}
	r.jumps = jumps(r.rest)
	for i, u := range w.record.Units {
		d := w.truth(i)
		d.DeadS, d.PhaseS = onStep(d.DeadS), onStep(d.PhaseS)
		told := func(v float64) Estimate { return Estimate{Value: v, Low: v, High: v, Identifiable: true} }
		r.devices = append(r.devices, d)
		r.Units = append(r.Units, &Learned{
			Name: u.Name, Device: d, Gain: told(d.Gain / d.PeriodS), Lateness: told(d.DeadS + d.LagS), Offset: told(d.OffsetW), Dead: told(d.DeadS), Lag: told(d.LagS),
			Ramp: told(d.RampWps), ChargeLimit: told(d.ChargeW), DischargeLimit: told(d.DischargeW),
		})
	}
	return r
}

var _ = Describe("an oscillation, run again with other noise on the meters", func() {
	It("is the site's where it stays as it is", func() {
		r := knownTwin(29)
		s := r.scatter(1)
		Expect(s.Swing()).To(BeTrue(), "%+v", s)
		Expect(s.Period.holds(s.Period.Value)).To(BeTrue())
		Expect(r.scatter(1)).To(Equal(s), "drawn from a seed of its own")
	})

	It("is chance where each run swings otherwise, and then no scenario is asked for it", func() {
		r := knownTwin(113) // slow ramps, and loops that want far more than they get
		s := r.scatter(1)
		Expect(s.Swing()).To(BeFalse(), "%+v", s)
		Expect(s.Period.Why).To(ContainSubstring("with other noise on the meters"))
		seen := r.seen()
		p := &Replay{Explain: []float64{1}, Log: seen, Model: seen, Scatter: s}
		Expect(p.Verdict()).To(ContainSubstring("No scenario can be asked for just this swing"))
	})

	It("is not told where what it depends on is not", func() {
		r := knownTwin(29)
		r.Units[1].Offset.Identifiable = false
		s := r.scatter(1)
		Expect(s.Swing()).To(BeFalse())
		Expect(s.Amplitude.Why).To(Equal("the log does not tell the gains, times and offsets of all inverters"))
	})

	It("is drawn with other figures for what the log does not tell", func() {
		r := knownTwin(29)
		before := r.scatter(1)
		r.Units[0].Ramp.Identifiable = false
		after := r.scatter(1)
		Expect(after.Amplitude.High - after.Amplitude.Low).To(BeNumerically(">", before.Amplitude.High-before.Amplitude.Low))
	})

	It("is drawn within the intervals where the scenario does not follow the log, which holds nothing fast then", func() {
		r := knownTwin(29)
		follows, slips := r.scatter(1), r.scatter(0)
		Expect(slips.Amplitude.High - slips.Amplitude.Low).To(BeNumerically(">", follows.Amplitude.High-follows.Amplitude.Low))
	})
})

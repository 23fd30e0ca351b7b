package physics

import (
	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

var _ = Describe("an inverter alone", func() {
	It("does with the readings of a plant's meter what the plant's inverter does", func() {
		s := pair(0.25, 0.2, 12, -8, 1, 1500)
		for i := range s.Inverters {
			v := &s.Inverters[i]
			v.DeadTimeS, v.LagS, v.RampUpWps, v.RampDownWps = 0, 0.5, 400, 300
			s.Meters[i].NoiseW = 3
		}
		p := mustNew(s)
		stepS := float64(s.StepMS) / 1000
		alone := NewAlone(&s.Inverters[0], stepS)
		loopTicks := int64(s.Inverters[0].Loop.PeriodS*1000) / s.StepMS
		moved := false
		for range 6000 {
			if p.Tick()%loopTicks == 0 {
				alone.Sample(p.Meters[s.Inverters[0].Loop.Meter].ReadingW)
			}
			p.Step()
			alone.Step()
			Expect(alone.PowerW).To(Equal(p.Inverters[0].PowerW))
			moved = moved || alone.PowerW < -100
		}
		Expect(moved).To(BeTrue())
	})

	It("shows what its loop asks for: more than a ramp lets it give, and no more than its limits", func() {
		s := pair(0.25, 0.2, 0, 0, 1, 1500)
		v := &s.Inverters[0]
		v.RampUpWps, v.RampDownWps = 100, 100
		alone := NewAlone(v, 0.1)
		for n := range 600 {
			if n%10 == 0 {
				alone.Sample(-3000)
			}
			alone.Step()
			Expect(alone.WantedW).To(BeNumerically("<=", min(v.RatingW, v.Battery.MaxChargeW)))
			Expect(alone.PowerW).To(BeNumerically("<=", alone.WantedW))
			if n == 100 {
				Expect(alone.WantedW).To(BeNumerically(">", alone.PowerW+1000))
			}
		}
		Expect(alone.WantedW).To(Equal(min(v.RatingW, v.Battery.MaxChargeW)))
	})
})

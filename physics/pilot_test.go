package physics

import (
	"math"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"
)

// IEC 61851-1:2017 annex A.
var _ = Describe("the control pilot", func() {
	DescribeTable("EV-01: each range of duty cycle means something (published, secondary)",
		func(duty float64, offer PilotOffer, amps float64) {
			o, a := PilotCurrent(duty)
			Expect(o).To(Equal(offer))
			Expect(a).To(BeNumerically("~", amps, 1e-12))
		},
		Entry(nil, 0.0, NoCurrent, 0.0), Entry(nil, 2.99, NoCurrent, 0.0), Entry(nil, 3.0, DigitalOnly, 0.0),
		Entry(nil, 5.0, DigitalOnly, 0.0), Entry(nil, 7.0, DigitalOnly, 0.0), Entry(nil, 7.5, NoCurrent, 0.0),
		Entry(nil, 8.0, CurrentOffered, 6.0), Entry(nil, 9.0, CurrentOffered, 6.0), Entry(nil, 40.0, CurrentOffered, 24.0),
		Entry(nil, 90.0, CurrentOffered, 65.0), Entry(nil, 96.5, CurrentOffered, 80.0), Entry(nil, 97.0, CurrentOffered, 80.0),
		Entry(nil, 97.1, NoCurrent, 0.0), Entry(nil, 100.0, NoCurrent, 0.0), Entry(nil, math.NaN(), NoCurrent, 0.0),
	)

	It("EV-02, EV-04, EV-13: names currents (recomputed)", func() {
		for d, a := range map[float64]float64{10: 6, 20: 12, 25: 15, 30: 18, 50: 30, 80: 48, 85: 51, 86: 55, 90: 65, 96: 80} {
			_, got := PilotCurrent(d)
			Expect(got).To(BeNumerically("~", a, 1e-12), "%g %%", d)
		}
		_, above := PilotCurrent(math.Nextafter(85, 86))
		Expect(above).To(BeNumerically("~", 52.5, 1e-9))
		_, half := PilotCurrent(50) // EV-13, published: a tutorial prints 32 A here
		Expect(half).NotTo(BeNumerically("~", 32, 1))
		Expect(PilotDuty(32)).To(BeNumerically("~", 53.33, 0.01))
	})

	It("EV-03, EV-05: finds the duty cycle of a current, and pauses under 6 A (recomputed)", func() {
		for a, d := range map[float64]float64{6: 10, 10: 16.6667, 13: 21.6667, 16: 26.6667, 20: 33.3333, 25: 41.6667, 32: 53.3333,
			40: 66.6667, 48: 80, 51: 85, 63: 89.2, 70: 92, 80: 96} {
			Expect(PilotDuty(a)).To(BeNumerically("~", d, 1e-4), "%g A", a)
		}
		Expect(PilotDuty(52)).To(Equal(85.0))                       // EV-04: nothing names it, 51 A is the next below
		Expect(PilotDuty(52.6)).To(BeNumerically("~", 85.04, 1e-9)) // by hand
		Expect(PilotDuty(100)).To(Equal(96.0))
		Expect(PilotDuty(math.NaN())).To(Equal(100.0))
		offer, _ := PilotCurrent(PilotDuty(5.99))
		Expect(offer).To(Equal(NoCurrent))
		Expect(PilotMinA).To(Equal(6.0))
	})

	It("never names more than is meant, and exactly that outside the jump", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			want := rapid.Float64Range(6, 80).Draw(t, "amps")
			_, got := PilotCurrent(PilotDuty(want))
			if got > want+1e-9 || (want <= 51 || want > 52.5) && math.Abs(got-want) > 1e-9 {
				t.Fatalf("%v A meant, %v A named", want, got)
			}
			c, d := rapid.Float64Range(8, 97).Draw(t, "c"), rapid.Float64Range(8, 97).Draw(t, "d")
			_, less := PilotCurrent(min(c, d))
			_, more := PilotCurrent(max(c, d))
			if less > more {
				t.Fatalf("between %v and %v %%", c, d)
			}
		})
	})

	It("EV-06 to EV-08: tells states by their levels", func() {
		// EV-06 published; EV-07 published, secondary (A, B, C); EV-08 recomputed, resistances from memory.
		for s, v := range map[PilotState]float64{PilotA: 12, PilotB: 9, PilotC: 6, PilotD: 3, PilotE: 0, PilotF: -12} {
			Expect(s.NominalV()).To(Equal(v))
			Expect(PilotStateAt(v)).To(Equal(s))
		}
		for _, x := range []struct {
			low, high float64
			state     PilotState
		}{{11.4, 12.6, PilotA}, {8.36, 9.56, PilotB}, {5.48, 6.53, PilotC}, {2.62, 3.25, PilotD}, // D from memory
			{-0.5, 0.5, PilotE}, {-12.6, -11.4, PilotF}} { // E our own, F from memory
			Expect(PilotStateAt(x.low)).To(Equal(x.state))
			Expect(PilotStateAt(x.high)).To(Equal(x.state))
			Expect(PilotStateAt(x.low - 0.01)).To(Equal(PilotUndefined))
			Expect(PilotStateAt(x.high + 0.01)).To(Equal(PilotUndefined))
		}
		for ohm, x := range map[float64]struct {
			v     float64
			state PilotState
		}{PilotOhmB: {8.9786, PilotB}, PilotOhmC: {5.9957, PilotC}, PilotOhmD: {2.9310, PilotD}} {
			Expect(PilotLevel(ohm)).To(BeNumerically("~", x.v, 1e-4))
			Expect(PilotStateAt(PilotLevel(ohm))).To(Equal(x.state))
		}
		Expect(PilotC.String() + PilotUndefined.String()).To(Equal("C?"))
	})

	It("EV-09: power at 230 V on one and three conductors (recomputed)", func() {
		for a, w := range map[float64][2]float64{6: {1380, 4140}, 10: {2300, 6900}, 16: {3680, 11040}, 32: {7360, 22080}} {
			Expect([2]float64{ChargingPower(a, 230, 1), ChargingPower(a, 230, 3)}).To(Equal(w))
		}
	})

	It("EV-10 to EV-12: knows the times of table A.6 (from memory)", func() {
		Expect([]float64{PilotFollowS, PilotHz, PilotHzTolerance, PilotOpenS, PilotForceOpenS}).To(Equal([]float64{5, 1000, 0.005, 0.1, 3}))
	})
})

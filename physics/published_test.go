package physics

import (
	"math"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
)

var _ = Describe("published values", func() {
	battery := func() Battery {
		return newBattery(&BatteryParams{
			CapacityWh: 10000, ChargeEfficiency: 0.95, DischargeEfficiency: 0.96,
			MaxChargeW: 10000, MaxDischargeW: 10000, InitialSOC: 0.5, TaperAboveSOC: 1,
		}, 0.1)
	}
	book := func(b *Battery, w float64, hours float64) {
		for range int(hours * 36000) {
			b.book(w)
		}
	}

	It("BA-02 and BA-03: energy state of charge by dE = eta_c P dt and -P dt / eta_d (recomputed)", func() {
		b := battery()
		book(&b, 5000, 0.5)
		Expect(b.SOC).To(BeNumerically("~", 0.7375, 1e-12))
		book(&b, -4000, 0.75)
		Expect(b.SOC).To(BeNumerically("~", 0.425, 1e-12))
	})

	It("BA-04: 10 kWh in and back to the same state of charge gives 9.12 kWh out (recomputed)", func() {
		b := battery()
		book(&b, 5000, 0.8) // 4 kWh in
		out := 4000 * 0.912
		book(&b, -out/0.75, 0.75)
		Expect(b.SOC).To(BeNumerically("~", 0.5, 1e-12))
		Expect(b.LostWh()).To(BeNumerically("~", 4000-out, 1e-6))
	})

	// NREL/TP-560-34302, table A5.1: 2003-10-17 12:30:30, UTC-7. The tolerance is that of PV-09, for a
	// low-precision method; the topocentric elevation is compared.
	It("PV-04: zenith 50.111622 and azimuth 194.340241 deg (published)", func() {
		el, az := SunPosition(1066419030, 39.742476, -105.1786)
		Expect(90 - el).To(BeNumerically("~", 50.111622, 0.05))
		Expect(az).To(BeNumerically("~", 194.340241, 0.05))
	})

	DescribeTable("PV-20: Haurwitz clear sky (published, pvlib-python tests/test_clearsky.py)",
		func(elevation, ghi float64) {
			Expect(ClearSkyGHI(elevation)).To(BeNumerically("~", ghi, 1e-8))
		},
		Entry(nil, -20.0, 0.0), Entry(nil, -0.05, 0.0), Entry(nil, 5.0, 48.6298687942),
		Entry(nil, 10.0, 135.741748092), Entry(nil, 30.0, 487.894132885),
		Entry(nil, 50.0, 778.766689344), Entry(nil, 90.0, 1035.09203253),
		Entry("PV-21", 60.0, 888.2713352912),
	)

	DescribeTable("GV-01 to GV-11: voltage at the end of a source impedance (recomputed from the two-node closed form)",
		func(r, x, p, q, v float64) {
			got := VoltageAtInlet(230, r, x, p, q)
			Expect(got).To(BeNumerically("~", v, 1e-4))
			// Every row satisfies |V + I Z| = 230: with V real, I = (P - jQ) / V.
			re, im := got+(p*r+q*x)/got, (p*x-q*r)/got
			Expect(math.Hypot(re, im)).To(BeNumerically("~", 230, 1e-9))
		},
		Entry("GV-01", 0.40, 0.25, 1000.0, 0.0, 228.2449),
		Entry("GV-02", 0.40, 0.25, 3680.0, 0.0, 223.3733),
		Entry("GV-03", 0.40, 0.25, 7360.0, 0.0, 216.2272),
		Entry("GV-04", 0.40, 0.25, -3680.0, 0.0, 236.1990),
		Entry("GV-05", 0.40, 0.25, -5000.0, 0.0, 238.3319),
		Entry("GV-06", 0.40, 0.25, -10000.0, 0.0, 246.0334),
		Entry("GV-07", 0.40, 0.25, -5000.0, 2180.0, 235.9897),
		Entry("GV-08", 0.24, 0.15, 3680.0, 0.0, 226.0805),
		Entry("GV-09", 0.24, 0.15, -5000.0, 0.0, 235.0825),
		Entry("GV-10", 0.24, 0.15, -10000.0, 0.0, 239.9184),
		Entry("GV-11", 0.24, 0.15, -5000.0, 2180.0, 233.6715),
	)

	It("EV-09: power at 230 V on one and three conductors (recomputed)", func() {
		for amps, watts := range map[float64][2]float64{6: {1380, 4140}, 10: {2300, 6900}, 16: {3680, 11040}, 32: {7360, 22080}} {
			for i, phases := range []int{1, 3} {
				s := bakery()
				s.Phases = phases
				s.Chargers[0] = ChargerParams{Name: "van", MaxA: 32, MinA: 6, CommandedA: amps}
				p := mustNew(s)
				p.Apply(PlugIn{CurrentA: 32})
				p.Step()
				Expect(p.Chargers[0].PowerW).To(BeNumerically("~", watts[i], 1e-9))
			}
		}
	})

	// CT-20 to CT-24: signs and swaps at 230 V, 10 A per phase, unity power factor (recomputed).
	It("CT-20 and CT-22: a meter sees +6900 W, and -6900 W when fitted the wrong way round", func() {
		s := bakery()
		s.Inverters, s.Arrays, s.Chargers = nil, nil, nil
		s.Loads = []LoadParams{{Name: "heater", PowerW: 6900, On: true}}
		s.Meters = []MeterParams{{Name: "right", RefreshS: 1}, {Name: "wrong", RefreshS: 1, Reversed: true}}
		p := mustNew(s)
		run(p, 2)
		Expect(p.Meters[0].ReadingW).To(Equal(6900.0))
		Expect(p.Meters[1].ReadingW).To(Equal(-6900.0))
		Expect(p.Meters[0].PhaseW()[1]).To(BeNumerically("~", 2300, 1e-9))
	})
})

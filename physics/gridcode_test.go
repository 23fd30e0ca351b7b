package physics

import (
	"math"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"pgregory.net/rapid"
)

var _ = Describe("answers to voltage and frequency", func() {
	// Those documents count injected reactive power positive; the plant counts what flows into the device.
	injected := func(c Curve) func(v float64) float64 { return func(v float64) float64 { return -c.At(v) } }
	same := func(c Curve) func(v float64) float64 { return c.At }

	DescribeTable("follow the published curves",
		func(at func(float64) float64, x, y []float64) {
			for i := range x {
				Expect(at(x[i])).To(BeNumerically("~", y[i], 1e-6), "at %g", x[i])
			}
		},
		Entry("GC-01: IEEE Std 1547-2018 table 8, Category B (published, secondary)", injected(VoltVarCategoryB()),
			[]float64{0.92, 0.98, 1.02, 1.08}, []float64{0.44, 0, 0, -0.44}),
		Entry("GC-02: between them (recomputed)", injected(VoltVarCategoryB()),
			[]float64{0.90, 0.95, 1.00, 1.03, 1.05, 1.10}, []float64{0.44, 0.22, 0, -0.44 / 6, -0.22, -0.44}),
		Entry("GC-04: IEEE Std 1547-2018 table 8, Category A (from memory)", injected(VoltVarCategoryA()),
			[]float64{0.90, 1.00, 1.10}, []float64{0.25, 0, -0.25}),
		Entry("GC-05: between them (recomputed)", injected(VoltVarCategoryA()),
			[]float64{0.95, 1.05}, []float64{0.125, -0.125}),
		Entry("GC-06: IEEE Std 1547-2018 table 10 (published, secondary)", same(VoltWatt1547()),
			[]float64{1.06, 1.10}, []float64{1, 0.2}),
		Entry("GC-07: between them (recomputed)", same(VoltWatt1547()),
			[]float64{1.05, 1.07, 1.08, 1.09, 1.10}, []float64{1, 0.8, 0.6, 0.4, 0.2}),
		Entry("GC-37: AS/NZS 4777.2:2020, Australia A, volt-var (published)", injected(VoltVarAustraliaA()),
			[]float64{207, 220, 240, 258}, []float64{0.44, 0, 0, -0.60}),
		Entry("GC-38: between them (recomputed)", injected(VoltVarAustraliaA()),
			[]float64{213.5, 249, 253, 260}, []float64{0.22, -0.30, -0.433333, -0.60}),
		Entry("GC-39: AS/NZS 4777.2:2020, Australia A, volt-watt (published)", same(VoltWattAustraliaA()),
			[]float64{253, 260}, []float64{1, 0.2}),
		Entry("GC-40: between them (recomputed)", same(VoltWattAustraliaA()),
			[]float64{254, 255, 256.5, 258}, []float64{0.885714, 0.771429, 0.6, 0.428571}),
	)

	It("GC-18: do not follow the demonstration data that a public model-705 file carries", func() {
		Expect(-VoltVarCategoryB().At(0.967)).NotTo(BeNumerically("~", 0, 1e-3))
		Expect(VoltWatt1547().At(1.10)).To(Equal(0.2))
	})

	It("GC-03, GC-04: reach 90 % of a change in the open-loop response time", func() {
		// GC-03, published: IEEE Std 1547-2018 table 8, Category B, 5 s; GC-04, from memory: Category A, 10 s.
		Expect([]float64{VoltVarResponseCategoryBS, VoltVarResponseCategoryAS}).To(Equal([]float64{5, 10}))
		r := NewCurveResponse(VoltVarCategoryB(), VoltVarResponseCategoryBS, 1.0, 0.1)
		for range 50 {
			r.Step(1.05)
		}
		Expect(r.Value()).To(BeNumerically("~", 0.9*0.22, 1e-9))
		Expect(r.Mean()).To(BeNumerically("<", r.Value()))
		at := NewCurveResponse(VoltVarCategoryB(), 0, 1.0, 0.1)
		Expect(at.Step(1.05)).To(BeNumerically("~", 0.22, 1e-12))
	})

	It("GC-08, GC-09: cut power by the droop of IEEE Std 1547-2018 (defaults from memory, arithmetic recomputed)", func() {
		d := Droop1547(60)
		Expect(d.OverHz).To(BeNumerically("~", 60.036, 1e-12))
		Expect(d.OverDroop).To(Equal(0.05))
		Expect(Droop1547ResponseS).To(Equal(5.0))
		for hz, cut := range map[float64]float64{60.1: 0.021333, 60.5: 0.154667, 61.0: 0.321333, 61.2: 0.388, 60.03: 0} {
			Expect(d.Change(hz)).To(BeNumerically("~", cut, 1e-6))
		}
		Expect(d.Change(59.5)).To(BeNumerically("~", -(59.964-59.5)/3, 1e-9)) // by hand
	})

	It("GC-30 to GC-34: cut power by LFSM-O", func() {
		// GC-30, GC-31, published: Commission Regulation (EU) 2016/631 art. 13(2), EN 50549-1:2019 4.6.1.
		Expect(LFSM(49.8, 0.05, 50.2, 0.05)).To(Equal(LFSMDefault()))
		for _, bad := range [][4]float64{{49.4, 0.05, 50.2, 0.05}, {49.8, 0.01, 50.2, 0.05}, {49.8, 0.05, 50.6, 0.05}, {49.8, 0.05, 50.2, 0.13}} {
			_, err := LFSM(bad[0], bad[1], bad[2], bad[3])
			Expect(err).To(MatchError(ContainSubstring("must be between")))
		}
		_, err := LFSM(49.8, 0.05, 50.2, 0.01)
		Expect(err).To(MatchError("LFSM-O: droop is 1 %; it must be between 2 and 12 %"))
		_, err = LFSM(49.5, 0.02, 50.5, 0.12) // the ends of the ranges
		Expect(err).NotTo(HaveOccurred())
		d := LFSMDefault()
		for hz, cut := range map[float64]float64{50.3: 0.04, 50.5: 0.12, 51.0: 0.32, 51.5: 0.52, 52.0: 0.72, 50.2: 0, 50: 0} { // GC-32, recomputed
			Expect(d.Change(hz)).To(BeNumerically("~", cut, 1e-9))
		}
		Expect(d.Change(49.3)).To(BeNumerically("~", -0.2, 1e-9)) // GC-31, by hand
		slow, err := LFSM(0, 0, 50.4, 0.10)
		Expect(err).NotTo(HaveOccurred())
		for hz, cut := range map[float64]float64{50.5: 0.02, 51.0: 0.12, 51.5: 0.22, 52.0: 0.32} { // GC-33, recomputed
			Expect(slow.Change(hz)).To(BeNumerically("~", cut, 1e-9))
		}
		Expect(slow.Change(40)).To(BeZero())
		Expect(20 * d.Change(50.7)).To(BeNumerically("~", 4, 1e-9)) // GC-34, published
	})

	It("GC-35, GC-45: a converter cuts a share of what it did when the threshold was passed, after its delay", func() {
		// GC-35, published; GC-45, from memory: at most 2 s, 10 mHz.
		Expect(LongestFrequencyDelayS).To(Equal(2.0))
		Expect(CoarsestFrequencyReadingHz).To(Equal(0.01))
		r := NewFrequencyResponse(FrequencyParams{Droop: LFSMDefault(), DelayS: 2}, 0.1)
		Expect(r.Step(50, -4000)).To(BeZero())
		for range 20 {
			Expect(r.Step(51, -5000)).To(BeZero())
		}
		Expect(r.Step(51, -1000)).To(BeNumerically("~", 0.32*5000, 1e-9)) // the later 1000 W do not count
		nominal := NewFrequencyResponse(FrequencyParams{Droop: LFSMDefault(), RatingW: 10000}, 0.1)
		Expect(nominal.Step(51, -5000)).To(BeNumerically("~", 3200, 1e-9))
	})

	It("GC-36: holds the deepest cut until the frequency has been back for its time (from memory: 600 s)", func() {
		r := NewFrequencyResponse(FrequencyParams{Droop: LFSMDefault(), Hold: true, ReleaseS: 600}, 1)
		Expect(r.Step(51.2, -5000)).To(BeNumerically("~", 2000, 1e-9))
		Expect(r.Step(50.3, -5000)).To(BeNumerically("~", 2000, 1e-9))
		for range 600 {
			Expect(r.Step(50, -5000)).To(BeNumerically("~", 2000, 1e-9))
		}
		Expect(r.Step(50, -5000)).To(BeZero())
		Expect(r.Step(49.7, -5000)).To(BeNumerically("~", -200, 1e-9))
		Expect(r.Step(50.3, -5000)).To(BeNumerically("~", 200, 1e-9)) // straight to the other side: nothing is held there yet
	})

	It("is monotone: more voltage never makes a device inject more, more frequency neither", func() {
		rapid.Check(GinkgoT(), func(t *rapid.T) {
			a, b := rapid.Float64Range(0.5, 1.5).Draw(t, "a"), rapid.Float64Range(0.5, 1.5).Draw(t, "b")
			a, b = min(a, b), max(a, b)
			ok := VoltVarCategoryA().At(a) <= VoltVarCategoryA().At(b) && VoltVarCategoryB().At(a) <= VoltVarCategoryB().At(b) &&
				VoltVarAustraliaA().At(230*a) <= VoltVarAustraliaA().At(230*b) && VoltWatt1547().At(a) >= VoltWatt1547().At(b) &&
				VoltWattAustraliaA().At(230*a) >= VoltWattAustraliaA().At(230*b)
			d := LFSMDefault()
			if ok = ok && d.Change(50*a) <= d.Change(50*b); !ok {
				t.Fatalf("between %v and %v", a, b)
			}
		})
	})
})

var _ = Describe("interface protection", func() {
	const step = 0.1
	ticksTo := func(r *TripRelay, lowV, highV, hz float64) int {
		for n := 1; n < 1000; n++ {
			if r.Step(lowV, highV, hz) {
				return n
			}
		}
		return -1
	}

	// GC-43, from memory: parameters of a site, and not what a verdict may rest on.
	DescribeTable("GC-43: trips each stage after its delay (ENA EREC G98, G99, from memory)",
		func(v, hz float64, ticks, stage int) {
			r := NewTripRelay(TripStagesG98G99(230), step)
			Expect(ticksTo(&r, v, v, hz)).To(Equal(ticks))
			Expect(r.Stage).To(Equal(stage))
		},
		Entry("inside", 230.0, 50.0, -1, -1),
		Entry("at the threshold", 262.19, 50.0, -1, -1),
		Entry("OV1", 263.0, 50.0, 10, 0), Entry("OV2", 274.0, 50.0, 5, 1), Entry("UV", 183.0, 50.0, 25, 2),
		Entry("OF", 230.0, 52.1, 5, 3), Entry("UF1", 230.0, 47.4, 200, 4), Entry("UF2", 230.0, 46.9, 5, 5),
	)

	It("GC-43: has thresholds of 262.2, 273.7 and 184 V at 230 V (from memory)", func() {
		for i, v := range []float64{262.2, 273.7, 184, 52, 47.5, 47} {
			Expect(TripStagesG98G99(230)[i].Threshold).To(BeNumerically("~", v, 1e-9))
		}
	})

	It("begins a stage's time anew when the supply recovers, and stays tripped until reset", func() {
		r := NewTripRelay(TripStagesG98G99(230), step)
		for range 20 {
			for range 9 {
				Expect(r.Step(230, 263, 50)).To(BeFalse())
			}
			r.Step(230, 230, 50)
		}
		Expect(ticksTo(&r, 230, 263, 50)).To(Equal(10))
		Expect(r.Step(230, 230, 50)).To(BeTrue())
		r.Reset()
		Expect(r.Step(230, 263, 50)).To(BeFalse())
		Expect(UnderVoltage.String()).To(Equal("under-voltage"))
	})

	It("GC-17: waits 300 s within the windows of IEEE Std 1547-2018 table 4 (published)", func() {
		p := EnterService1547(240)
		Expect(p.LowV / 240).To(BeNumerically("~", 0.917, 1e-12))
		Expect(p.HighV / 240).To(BeNumerically("~", 1.05, 1e-12))
		Expect([]float64{p.LowHz, p.HighHz, p.DelayS}).To(Equal([]float64{59.5, 60.1, 300}))
		e := NewEnterService(p, step)
		e.Step(240, 240, 60, true)
		for range 2000 {
			e.Step(240, 240, 60, false)
		}
		e.Step(240, 253, 60, false) // one tick too high: the waiting begins anew
		for range 2999 {
			e.Step(240, 240, 60, false)
		}
		Expect(e.Connected).To(BeFalse())
		e.Step(240, 240, 60, false)
		Expect(e.Connected).To(BeTrue())
		Expect(e.Permitted).To(Equal(1.0))
	})

	DescribeTable("waits for the whole of both windows, their edges included",
		func(lowV, highV, hz float64, connects bool) {
			e := NewEnterService(EnterServiceParams{LowV: 205, HighV: 253, LowHz: 47.5, HighHz: 50.15, DelayS: 1}, step)
			e.Step(230, 230, 50, true)
			for range 10 {
				e.Step(lowV, highV, hz, false)
			}
			Expect(e.Connected).To(Equal(connects))
		},
		Entry(nil, 205.0, 253.0, 47.5, true), Entry(nil, 230.0, 230.0, 50.15, true), Entry(nil, 204.9, 230.0, 50.0, false),
		Entry(nil, 230.0, 253.1, 50.0, false), Entry(nil, 230.0, 230.0, 47.4, false), Entry(nil, 230.0, 230.0, 50.16, false),
	)

	It("GC-41: waits 60 s and then rises by 16.67 % a minute (AS/NZS 4777.2:2020, published, secondary)", func() {
		e := NewEnterService(ReconnectAustralia(EnterServiceParams{LowV: 205, HighV: 253, LowHz: 47.5, HighHz: 50.15}), step)
		e.Step(230, 230, 50, true)
		Expect(e.Permitted).To(BeZero())
		for range 600 {
			Expect(e.Permitted).To(BeZero())
			e.Step(230, 230, 50, false)
		}
		for range 600 {
			e.Step(230, 230, 50, false)
		}
		Expect(e.Permitted).To(BeNumerically("~", 0.1667, 1e-9))
		for range 3100 {
			e.Step(230, 230, 50, false)
		}
		Expect(e.Permitted).To(Equal(1.0))
	})

	It("GC-42, GC-44: knows G98's scope (published, secondary) and G100's time (from memory)", func() {
		Expect(G98ScopeA).To(Equal(16.0))
		Expect(ExportExcursionS).To(Equal(5.0))
	})

	It("allocates nothing", func() {
		r, e := NewTripRelay(TripStagesG98G99(230), step), NewEnterService(EnterService1547(230), step)
		f := NewFrequencyResponse(FrequencyParams{Droop: LFSMDefault(), DelayS: 1, ResponseS: 2}, step)
		c := NewCurveResponse(VoltVarCategoryB(), 5, 1, step)
		sum := 0.0
		Expect(allocations(func() {
			for i := range 1000 {
				hz := 50 + 2*math.Abs(float64(i%10)-5)/5
				e.Step(230, 230, hz, r.Step(230, 230, hz))
				sum += f.Step(hz, -5000) + c.Step(1.05)
			}
		})).To(BeZero())
	})
})

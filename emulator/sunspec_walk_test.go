package emulator_test

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator"
	"kilter/physics"
	"kilter/scenarios"
)

// on puts a story on another site, with the SunSpec devices' map and signs chosen.
func on(site, layout string, into bool) *scenarios.Scenario {
	GinkgoHelper()
	sc := story("solar-surge")
	s, err := scenarios.BuiltinSite(site)
	Expect(err).NotTo(HaveOccurred())
	sc.Site = s
	for i := range s.Devices {
		d := &s.Devices[i]
		if d.Wire == nil || d.Wire.Map != "sunspec" {
			continue
		}
		if d.Kind != scenarios.Meter || layout != "sunspec-der" {
			d.Wire.Map = layout
		}
		switch {
		case d.Kind == scenarios.Meter && into:
			d.Wire.Sign = scenarios.ImportPositive
		case d.Kind == scenarios.Meter:
			d.Wire.Sign = scenarios.ExportPositive
		case into:
			d.Wire.Sign = scenarios.ChargingPositive
		default:
			d.Wire.Sign = scenarios.DischargingPositive
		}
	}
	return sc
}

// expectation compares one chain with the plant. Each check counts, so that none is skipped silently.
type expectation struct {
	got   *read
	sign  float64 // of power into the device, where the standard leaves it open
	count int
}

// says expects a point to be there, and to be right within half a step of its register.
func (e *expectation) says(name string, want float64) {
	GinkgoHelper()
	got, has := e.got.values[name]
	Expect(has).To(BeTrue(), "%s is not implemented", name)
	Expect(got).To(BeNumerically("~", want, e.got.steps[name]/2*(1+1e-9)), name)
	e.count++
}

// counts expects a counter to show whole units, unless it is a floating-point number.
func (e *expectation) counts(name string, want float64) {
	GinkgoHelper()
	if e.got.kinds[name] != "float32" {
		want = math.Floor(want)
	}
	e.says(name, want)
}

// silent expects points to read as their types say for what is not implemented.
func (e *expectation) silent(names ...string) {
	GinkgoHelper()
	// SS-04 to SS-09: pysunspec2 tests/test_mb.py; SS-11, SS-12: a float's is 7FC00000, sunspec2/mb.py.
	reserved := map[string][]uint16{"int16": {0x8000}, "sunssf": {0x8000}, "uint16": {0xFFFF}, "enum16": {0xFFFF}, "bitfield16": {0xFFFF},
		"float32": {0x7FC0, 0}, "int32": {0x8000, 0}, "uint32": {0xFFFF, 0xFFFF}, "bitfield32": {0xFFFF, 0xFFFF}, "acc32": {0, 0}, "acc64": {0, 0, 0, 0},
		"uint64": {0xFFFF, 0xFFFF, 0xFFFF, 0xFFFF}, "pad": {0}}
	for _, name := range names {
		kind := e.got.kinds[name]
		Expect(reserved).To(HaveKey(kind), name)
		Expect(e.got.raw[name]).To(Equal(reserved[kind]), "%s of type %s", name, kind)
		e.count++
	}
}

// ac checks what each model of an inverter or a meter tells of the AC side: active power in all and by phase [W], and
// reactive power [var], NaN where it is not read. A meter rounds each of its powers for itself.
func (e *expectation) ac(model int, b *emulator.Bench, w float64, phaseW [3]float64, q float64) {
	GinkgoHelper()
	p := fmt.Sprintf("%d.", model)
	amps := 0.0
	for i := range b.Plant().Site().Phases {
		volts := b.Plant().VoltageV(physics.L1 + physics.Phases(i))
		e.says(p+[]string{"PhVphA", "PhVphB", "PhVphC"}[i], volts)
		amps += phaseW[i] / volts
	}
	e.says(p+"Hz", b.Plant().Supply().Hz)
	e.says(p+"W", e.sign*w)
	e.says(p+"A", math.Abs(amps))
	if math.IsNaN(q) {
		e.silent(p+"VA", p+"PF")
		return
	}
	e.says(p+"VA", math.Hypot(w, q))
	if w != 0 {
		e.says(p+"PF", 100*e.sign*w/math.Hypot(w, q))
	}
}

// evenly divides the power of a device among the conductors that it is connected to.
func evenly(b *emulator.Bench, w float64, phases physics.Phases) (share [3]float64) {
	switch {
	case b.Plant().Site().Phases == 1:
		share[0] = w
	case phases == physics.AllPhases:
		share = [3]float64{w / 3, w / 3, w / 3}
	default:
		share[phases-physics.L1] = w
	}
	return share
}

func (e *expectation) inverter(b *emulator.Bench, x *physics.Inverter, p *physics.InverterParams) {
	GinkgoHelper()
	for _, m := range e.got.models {
		switch m {
		case 101, 103, 111, 113:
			e.ac(int(m), b, x.PowerW, evenly(b, x.PowerW, p.Phases), x.Reactive)
			name := fmt.Sprintf("%d.", m)
			e.says(name+"VAr", e.sign*x.Reactive)
			e.counts(name+"WH", x.Exported.Wh())
			e.says(name+"DCW", e.sign*(x.BatteryW-x.PVW))
			e.says(name+"St", 4) // MPPT: it runs
			e.says(name+"Evt1", 0)
			e.silent(name+"TmpSnk", name+"EvtVnd1", name+"StVnd")
		case 120:
			e.says("120.WRtg", p.RatingW)
			e.says("120.WHRtg", p.Battery.CapacityWh)
			e.says("120.MaxChaRte", p.RatingW)
			e.says("120.MaxDisChaRte", p.RatingW)
			e.says("120.DERTyp", 82)
			e.silent("120.VArRtgQ1", "120.PFRtg_SF")
		case 121:
			e.says("121.WMax", p.RatingW)
			e.says("121.WGra", 100*math.Min(p.RampUpWps, p.RampDownWps)/p.RatingW)
			e.says("121.VRef", 230)
			e.says("121.ECPNomHz", 50)
		case 122:
			e.counts("122.ActWh", x.Exported.Wh())
			e.says("122.ECPConn", 1)
			e.says("122.Tms", float64(b.Scenario().Starts.Unix()-946684800)+float64(b.Plant().TimeMS()/1000))
		case 123:
			e.says("123.Conn", 1)
			e.says("123.WMaxLimPct", 100)
			e.says("123.WMaxLim_Ena", 0)
		case 124:
			e.says("124.ChaState", 100*x.Battery.ToldSOC())
			e.says("124.MinRsvPct", 100*p.Battery.ReserveSOC)
			e.says("124.WChaMax", p.RatingW)
			e.says("124.InWRte", 100)
			e.says("124.OutWRte", 100)
			e.says("124.StorCtl_Mod", 0)
			charging := 6.0 // HOLDING
			if x.PowerW > 1 {
				charging = 4
			} else if x.PowerW < -1 {
				charging = 3
			}
			e.says("124.ChaSt", charging)
		case 701:
			// SS-50, SS-51, SS-52: model_701.json states these signs, whatever the choice.
			e.says("701.W", -x.PowerW)
			e.says("701.Var", -x.Reactive)
			e.says("701.VA", math.Hypot(x.PowerW, x.Reactive))
			e.says("701.PF", math.Copysign(x.PowerW/math.Hypot(x.PowerW, x.Reactive), -x.PowerW))
			e.counts("701.TotWhInj", x.Exported.Wh())
			e.counts("701.TotWhAbs", x.Imported.Wh())
			e.says("701.Hz", b.Plant().Supply().Hz)
			e.says("701.InvSt", 3)
			e.says("701.ConnSt", 1)
			if b.Plant().Site().Phases == 3 && p.Phases == physics.AllPhases {
				for _, leg := range []string{"WL1", "WL2", "WL3"} {
					e.says("701."+leg, -x.PowerW/3)
				}
			}
		case 702:
			e.says("702.WMaxRtg", p.RatingW)
			e.says("702.WChaRteMax", p.RatingW)
		case 703:
			e.says("703.ES", 1)
		case 704:
			e.says("704.WMaxLimPct", 100)
			e.says("704.WMaxLimPctEna", 0)
			e.says("704.WSetEna", 0)
			e.says("704.WSetMod", 1)
			e.says("704.WSetRvrtRem", 0)
			e.silent("704.VarSet", "704.VarSet_SF")
		case 705, 706:
			e.says(fmt.Sprintf("%d.NCrv", m), 1)
		case 711:
			e.says("711.NCtl", 1)
		case 713:
			e.says("713.WHRtg", p.Battery.CapacityWh)
			e.says("713.SoC", 100*x.Battery.ToldSOC())
			// SS-39: "WHAvail = WHRtg * SoC * SoH", model_713.json; each is rounded.
			got := e.got.values
			Expect(got["713.WHAvail"]).To(BeNumerically("~", got["713.WHRtg"]*got["713.SoC"]*got["713.SoH"]/1e4, 0.0006*got["713.WHRtg"]))
		case 714:
			e.says("714.Prt[1].DCW", e.sign*x.BatteryW)
			e.says("714.Prt[1].PrtTyp", 1)
		case 802:
			e.says("802.SoC", 100*x.Battery.ToldSOC())
			e.says("802.W", e.sign*x.BatteryW)
			e.says("802.Hb", float64(b.Plant().TimeMS()/1000%65536)) // SS-40: "incremented every second"
			e.says("802.SoCRsvMin", 100*p.Battery.ReserveSOC)
			if volts, has := x.Battery.VoltageV(); has {
				e.says("802.V", volts)
				e.says("802.A", e.sign*x.BatteryW/volts)
			} else {
				e.silent("802.V", "802.A")
			}
		}
	}
}

func (e *expectation) meter(b *emulator.Bench, m *physics.Meter, model int) {
	GinkgoHelper()
	p := fmt.Sprintf("%d.", model)
	q := 0.0
	if r := b.Plant().Site().Inverters[0].Response; r != nil && len(r.VoltVar) > 0 {
		q = math.NaN() // the plant's meters do not read it
	}
	e.ac(model, b, m.ReadingW, m.PhaseW(), q)
	e.counts(p+"TotWhImp", m.ImportedWh())
	e.counts(p+"TotWhExp", m.ExportedWh())
	if b.Plant().Site().Phases == 3 {
		phase := m.PhaseW()
		for i, name := range []string{"WphA", "WphB", "WphC"} {
			e.says(p+name, e.sign*phase[i])
		}
	} else {
		e.silent(p+"WphB", p+"PhVphB")
	}
	e.silent(p + "VAphA")
	if model < 211 {
		e.silent(p+"TotVAh_SF", p+"TotVAhImp")
	} else {
		e.silent(p + "TotVAhImp")
	}
}

func (e *expectation) array(b *emulator.Bench, a *physics.Array, p *physics.ArrayParams) {
	GinkgoHelper()
	for _, m := range e.got.models {
		switch m {
		case 101, 103, 111, 113:
			e.ac(int(m), b, a.PowerW, evenly(b, a.PowerW, p.Phases), a.Reactive)
			e.counts(fmt.Sprintf("%d.WH", m), a.Energy.Wh())
			e.says(fmt.Sprintf("%d.DCW", m), -e.sign*a.DCW)
		case 120:
			e.says("120.WRtg", p.RatingW)
			e.says("120.DERTyp", 4)
			e.silent("120.WHRtg")
		case 701:
			e.says("701.W", -a.PowerW)
			e.says("701.VA", math.Hypot(a.PowerW, a.Reactive))
			e.says("701.Var", -a.Reactive)
			e.says("701.PF", -a.PowerW/math.Hypot(a.PowerW, a.Reactive))
			e.counts("701.TotWhInj", a.Energy.Wh())
			e.says("701.TotWhAbs", 0)
		case 702:
			e.says("702.WMaxRtg", p.RatingW)
			e.silent("702.WChaRteMaxRtg")
		case 714:
			e.says("714.Prt[1].PrtTyp", 0)
			e.says("714.Prt[1].DCW", -e.sign*a.DCW)
		}
	}
}

// chains are the models that each kind of device serves by each map on three phases.
var chains = map[string]map[scenarios.DeviceKind][]uint16{
	"sunspec": {
		scenarios.Inverter: {1, 103, 120, 121, 122, 123, 124, 713, 802, 0xFFFF},
		scenarios.Meter:    {1, 203, 0xFFFF},
		scenarios.Array:    {1, 103, 120, 121, 122, 123, 0xFFFF},
	},
	"sunspec-float": {
		scenarios.Inverter: {1, 113, 120, 121, 122, 123, 124, 713, 802, 0xFFFF},
		scenarios.Meter:    {1, 213, 0xFFFF},
		scenarios.Array:    {1, 113, 120, 121, 122, 123, 0xFFFF},
	},
	"sunspec-der": {
		scenarios.Inverter: {1, 701, 702, 703, 704, 705, 706, 711, 713, 714, 802, 0xFFFF},
		scenarios.Meter:    {1, 203, 0xFFFF},
		scenarios.Array:    {1, 701, 702, 703, 704, 705, 706, 711, 714, 0xFFFF},
	},
}

// walkAll reads every SunSpec device of a bench and compares it with the plant; it returns how much was compared and
// the largest power that was seen of each kind.
func walkAll(b *emulator.Bench, layout string, into bool) (count int, moved map[scenarios.DeviceKind]float64) {
	GinkgoHelper()
	moved = map[scenarios.DeviceKind]float64{}
	site := b.Plant().Site()
	for _, d := range b.Scenario().Site.Devices {
		if d.Wire == nil || !strings.HasPrefix(d.Wire.Map, "sunspec") {
			continue
		}
		f := called(b, d.Name)
		e := &expectation{got: readChain(f.Address, f.Unit, uint16(f.Base)), sign: -1}
		if into {
			e.sign = 1
		}
		Expect(f.Sign).To(Equal(int(e.sign)), "the bench file states the sign of %s", d.Name)
		want := append([]uint16(nil), chains[layout][d.Kind]...)
		for i := range want {
			if site.Phases == 1 && slices.Contains([]uint16{103, 113, 203, 213}, want[i]) {
				want[i] -= 2
			}
		}
		Expect(e.got.models).To(Equal(want))
		e.says("1.DA", float64(f.Unit))
		switch d.Kind {
		case scenarios.Inverter:
			x := &b.Plant().Inverters[d.Index]
			moved[d.Kind] = math.Abs(x.PowerW)
			e.inverter(b, x, &site.Inverters[d.Index])
		case scenarios.Meter:
			m := &b.Plant().Meters[d.Index]
			moved[d.Kind] = math.Abs(m.ReadingW)
			e.meter(b, m, int(e.got.models[1]))
		case scenarios.Array:
			a := &b.Plant().Arrays[d.Index]
			moved[d.Kind] = math.Abs(a.PowerW)
			e.array(b, a, &site.Arrays[d.Index])
		}
		Expect(e.count).To(BeNumerically(">", 5), d.Name)
		count += e.count
	}
	return count, moved
}

var _ = Describe("every SunSpec device that the bench serves", func() {
	for _, site := range scenarios.BuiltinSites() {
		for _, layout := range []string{"sunspec", "sunspec-float", "sunspec-der"} {
			for _, into := range []bool{true, false} {
				It(fmt.Sprintf("agrees with the plant on %s, map %s, power into the device positive: %v", site, layout, into), func() {
					b := open(on(site, layout, into), emulator.Options{Pace: emulator.Stepped})
					play(b, nil)
					c := connect(b)
					total, most := 0, map[scenarios.DeviceKind]float64{}
					for range 4 {
						Expect(c.wait(7_300)).To(BeTrue())
						count, moved := walkAll(b, layout, into)
						total += count
						for kind, w := range moved {
							most[kind] = max(most[kind], w)
						}
					}
					Expect(total).To(BeNumerically(">", 200))
					for _, kind := range []scenarios.DeviceKind{scenarios.Inverter, scenarios.Meter, scenarios.Array} {
						Expect(most[kind]).To(BeNumerically(">", 100), "else sign and scale of a %s were not tested", kind)
					}
				})
			}
		}
	}

	It("agrees with the finer plant: reactive power, cells, temperature, settings", func() {
		sc := on("bakery", "sunspec-der", true)
		p := &sc.Site.Plant.Inverters[0]
		// EnterService1547 is for 60 Hz; the window here is about the nominal 50 Hz, and invented.
		p.Response = &physics.ResponseParams{
			VoltVar: physics.Curve{{X: 0.9, Y: -0.3}, {X: 1.2, Y: -0.1}}, VoltVarResponseS: 1, VoltWatt: physics.VoltWatt1547(), VoltWattResponseS: 5,
			Frequency: physics.FrequencyParams{Droop: physics.Droop1547(50), ResponseS: 5}, Trips: physics.TripStagesG98G99(230),
			Enter: physics.EnterServiceParams{LowV: 0.9 * 230, HighV: 1.1 * 230, LowHz: 49.5, HighHz: 50.2, DelayS: 1, RampPerS: 0.5},
		}
		p.Battery.Cell = &physics.CellParams{OCV: physics.Curve{{X: 0, Y: 3}, {X: 1, Y: 3.4}}, CapacityAh: 196, R0Ohm: 0.001, MaxV: 3.6, MinV: 2.8,
			MaxChargeA: 150, MaxDischA: 150, Series: 16}
		p.Battery.Thermal = &physics.ThermalParams{CapacityJpK: 50_000, ResistanceKpW: 0.2, AmbientC: 21, InitialC: 24, Derating: physics.Derating{}}
		b, err := emulator.New(sc, emulator.Options{Pace: emulator.Stepped})
		Expect(err).NotTo(HaveOccurred())
		DeferCleanup(b.Close)
		play(b, nil)
		c := connect(b)
		Expect(c.wait(20_000)).To(BeTrue())
		walkAll(b, "sunspec-der", true)
		x := &b.Plant().Inverters[0]
		Expect(math.Abs(x.Reactive)).To(BeNumerically(">", 100), "else reactive power was not tested")
		f := called(b, "north")
		e := &expectation{got: readChain(f.Address, f.Unit, uint16(f.Base)), sign: 1}
		volts, _ := x.Battery.VoltageV()
		warm, _ := x.Battery.TemperatureC()
		e.says("714.Prt[1].DCV", volts)
		e.says("714.Prt[1].Tmp", warm)
		e.says("701.TmpCab", warm)
		e.says("802.AHRtg", 196)
		e.says("702.VarMaxInjRtg", 0.3*5000)
		e.says("703.ESVHi", 110)
		e.says("703.ESHzLo", 49.5)
		e.says("703.ESDlyTms", 1)
		e.says("703.ESRmpTms", 2)
		e.says("705.Ena", 1)
		e.says("705.Crv[1].ActPt", 2)
		e.says("705.Crv[1].Pt[1].V", 90)
		e.says("705.Crv[1].Pt[1].Var", 30)
		e.says("706.Crv[1].Pt[2].W", 20)
		e.says("711.Ctl[1].DbOf", 0.036)
		e.says("711.Ctl[1].KUf", 0.05)
		e.silent("705.Crv[1].Pt[3].V", "705.Crv[1].Pt[3].Var")
	})

	It("stands where the chain's arithmetic puts it", func() {
		b := open(story("calm-start"), emulator.Options{Pace: emulator.Stepped})
		play(b, nil)
		// SS-28, with models 713 and 802 behind; SS-29: next = address + 2 + L, recomputed.
		north, grid := called(b, "north"), called(b, "grid_meter")
		Expect(readChain(north.Address, north.Unit, uint16(north.Base)).starts).To(Equal(
			[]int{40002, 40070, 40122, 40150, 40182, 40228, 40254, 40280, 40289, 40353}))
		Expect(readChain(grid.Address, grid.Unit, uint16(grid.Base)).starts).To(Equal([]int{40002, 40070, 40177}))
	})

	It("has a sign to choose, since the standard states none", func() {
		// SS-55: absence checked by text search over the JSON of the standard.
		for _, model := range []int{101, 102, 103, 111, 112, 113, 201, 202, 203, 204, 211, 212, 213, 214} {
			text, err := os.ReadFile(filepath.Join(definitions(), fmt.Sprintf("model_%d.json", model)))
			Expect(err).NotTo(HaveOccurred())
			Expect(strings.ToLower(string(text))).NotTo(MatchRegexp(`positive (is|for)|import is|generation is`), "model %d", model)
		}
	})

	It("never counts energy backwards", func() {
		b := open(story("solar-surge"), emulator.Options{Pace: emulator.Stepped})
		play(b, nil)
		c := connect(b)
		last := map[string]float64{}
		grown := false
		for range 25 {
			Expect(c.wait(20_000)).To(BeTrue())
			for _, name := range []string{"north", "grid_meter", "panels"} {
				f := called(b, name)
				got := readChain(f.Address, f.Unit, uint16(f.Base))
				for point, v := range got.values {
					if !strings.HasPrefix(got.kinds[point], "acc") {
						continue
					}
					Expect(v).To(BeNumerically(">=", last[name+point]), "%s %s", name, point)
					grown = grown || v > last[name+point]
					last[name+point] = v
				}
			}
		}
		Expect(grown).To(BeTrue())
	})
})

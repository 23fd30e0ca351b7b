package registers_test

import (
	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"github.com/onsi/gomega/types"

	"kilter/emulator/registers"
)

var _ = Describe("Writes to model 704", func() {
	It("set active power, generation positive as the standard says, whatever the options say", func() {
		// SS-38 and SS-53: WSet int32, "may be negative for charging", model_704.json.
		m, err := registers.SunSpecMap("der", 1, 701, 704)
		Expect(err).NotTo(HaveOccurred())
		im := registers.NewImage(m, registers.Options{Ratings: ratings, Sign: registers.SignInto})
		Expect(write(im, at(im, "704.WSetEna"), 1)).To(ConsistOf(
			And(HaveField("Signal", registers.Mode), HaveField("Value", float64(registers.ModeSetpoint))),
			And(HaveField("Signal", registers.Setpoint), HaveField("Value", 0.0))))
		commands := write(im, at(im, "704.WSet"), 0xFFFF, 0xF63C) // -2500, MB-72
		Expect(commands).To(ConsistOf(And(HaveField("Signal", registers.Setpoint), HaveField("Value", 2500.0))))
		im.Refresh(snapshot(registers.ACPower, 2500, registers.ApparentPower, 2500,
			registers.EnergyExported, 7, registers.EnergyImported, 9))
		Expect(int16(word(im, at(im, "701.W")))).To(Equal(int16(-2500)))                         // SS-50, model_701.json
		Expect(int16(word(im, at(im, "701.PF")))).To(Equal(int16(-1000)))                        // SS-51, model_701.json
		Expect(words(im, at(im, "701.TotWhInj"), 8)).To(Equal([]uint16{0, 0, 0, 7, 0, 0, 0, 9})) // SS-52, model_701.json
	})

	var im *registers.Image
	BeforeEach(func() {
		im = registers.NewImage(registers.SunSpecDER(), registers.Options{Ratings: ratings})
		im.Refresh(snapshot(registers.ACPower, 0, registers.Mode, registers.ModeSelfConsumption, registers.Setpoint, 0))
	})
	signal := func(s registers.Signal, value float64) types.GomegaMatcher {
		return And(HaveField("Signal", s), HaveField("Value", value))
	}
	// lapse ends commands as the bench does, and returns what they fall back to.
	lapse := func(signals ...registers.Signal) (commands []registers.Command) {
		for _, s := range signals {
			im.Lapse(s, func(c registers.Command) { commands = append(commands, c) })
		}
		return commands
	}

	It("stand where the standard puts them", func() {
		// SS-37, SS-38, SS-39, SS-41: offsets in model_701.json, model_704.json, model_713.json, model_703.json.
		for _, p := range []struct {
			model, name string
			offset      uint16
		}{
			{"701", "InvSt", 4}, {"701", "ConnSt", 5}, {"701", "W", 10}, {"701", "Var", 12}, {"701", "Hz", 17}, {"701", "TotWhInj", 19},
			{"701", "TotWhAbs", 23}, {"701", "WL1", 41}, {"701", "WL2", 64}, {"701", "WL3", 87}, {"701", "A_SF", 113},
			{"704", "WMaxLimPctEna", 14}, {"704", "WMaxLimPct", 15}, {"704", "WSetEna", 22}, {"704", "WSetMod", 23}, {"704", "WSet", 24},
			{"704", "WSetPct", 28}, {"704", "WSetRvrtTms", 31}, {"704", "WRmp", 49}, {"704", "WSet_SF", 55}, {"704", "WSetPct_SF", 56},
			{"703", "ES", 2}, {"703", "ESVHi", 3}, {"703", "ESVLo", 4}, {"703", "ESHzHi", 5}, {"703", "ESHzLo", 7}, {"703", "ESDlyTms", 9}, {"703", "ESRmpTms", 13},
		} {
			Expect(at(im, p.model+"."+p.name)-at(im, p.model+".ID")).To(Equal(p.offset), p.model+"."+p.name)
		}
	})

	It("enable the set point and give it back, by one register", func() {
		Expect(write(im, at(im, "704.WSet"), 0, 1500)).To(BeEmpty(), "stored, and not obeyed yet")
		Expect(write(im, at(im, "704.WSetEna"), 1)).To(ConsistOf(signal(registers.Mode, registers.ModeSetpoint), signal(registers.Setpoint, -1500)))
		Expect(write(im, at(im, "704.WSetEna"), 0)).To(ConsistOf(signal(registers.Mode, registers.ModeSelfConsumption),
			And(signal(registers.Setpoint, 0), HaveField("Withdrawn", true))))
	})

	It("choose between watts and percent by the mode", func() {
		write(im, at(im, "704.WSetEna"), 1)
		Expect(write(im, at(im, "704.WSetPct"), 0xEC78)).To(BeEmpty(), "-50 %% is not asked for while the mode is watts") // SS-62
		Expect(word(im, at(im, "704.WSetPct_SF"))).To(Equal(uint16(0xFFFE)))
		Expect(write(im, at(im, "704.WSetMod"), 0)).To(ConsistOf(signal(registers.Setpoint, 2500)))
		Expect(write(im, at(im, "704.WSet"), 0, 100)).To(BeEmpty())
		Expect(write(im, at(im, "704.WSetMod"), 1)).To(ConsistOf(signal(registers.Setpoint, -100)))
		Expect(im.Write(at(im, "704.WSetMod"), []uint16{2}, nil)).To(MatchError(registers.ErrIllegalValue))
		point, needs := im.Idle(registers.Holding, at(im, "704.WSetPct"), 1)
		Expect([]string{point, needs}).To(Equal([]string{"704.WSetPct", "704.WSetMod"}))
	})

	It("last as long as the reversion time says, the enabling with the set point", func() {
		write(im, at(im, "704.WSetRvrtTms"), 0, 30)
		lasting := HaveField("LastsS", 30.0)
		Expect(write(im, at(im, "704.WSetEna"), 1)).To(ConsistOf(
			And(signal(registers.Mode, registers.ModeSetpoint), lasting), And(signal(registers.Setpoint, 0), lasting)))
		Expect(write(im, at(im, "704.WSet"), 0, 700)).To(ConsistOf(
			And(signal(registers.Mode, registers.ModeSetpoint), lasting), And(signal(registers.Setpoint, -700), lasting)),
			"a new set point renews both")
	})

	It("are released when their time is over and nothing is set to fall back to", func() {
		write(im, at(im, "704.WSetRvrtTms"), 0, 30)
		write(im, at(im, "704.WSet"), 0, 700)
		write(im, at(im, "704.WSetEna"), 1)
		Expect(lapse(registers.Mode, registers.Setpoint)).To(BeEmpty())
		Expect(word(im, at(im, "704.WSetEna"))).To(Equal(uint16(0)))
		Expect(words(im, at(im, "704.WSet"), 2)).To(Equal([]uint16{0, 0}))
		Expect(words(im, at(im, "704.WSetRvrtTms"), 2)).To(Equal([]uint16{0, 30}), "the time is no command: it stays")
	})

	DescribeTable("fall back to the reversion value where that is enabled, in either order", func(order ...registers.Signal) {
		write(im, at(im, "704.WSetRvrt"), 0, 250)
		write(im, at(im, "704.WSetEnaRvrt"), 1)
		write(im, at(im, "704.WSetRvrtTms"), 0, 30)
		write(im, at(im, "704.WSet"), 0, 700)
		write(im, at(im, "704.WSetEna"), 1)
		Expect(lapse(order...)).To(ConsistOf(
			And(signal(registers.Mode, registers.ModeSetpoint), HaveField("LastsS", 0.0)),
			And(signal(registers.Setpoint, -250), HaveField("LastsS", 0.0))))
		Expect(words(im, at(im, "704.WSet"), 2)).To(Equal([]uint16{0, 250}))
		Expect(word(im, at(im, "704.WSetEna"))).To(Equal(uint16(1)))
	}, Entry(nil, registers.Mode, registers.Setpoint), Entry(nil, registers.Setpoint, registers.Mode))

	It("limit the output with a reversion of its own", func() {
		Expect(write(im, at(im, "704.WMaxLimPctRvrtTms"), 0, 60)).To(ConsistOf(signal(registers.OutputReversionTime, 60)))
		write(im, at(im, "704.WMaxLimPct"), 4000) // 40 % at SF -2
		Expect(write(im, at(im, "704.WMaxLimPctEna"), 1)).To(ConsistOf(And(signal(registers.OutputLimit, 0.4), HaveField("LastsS", 60.0))))
		Expect(lapse(registers.OutputLimit)).To(BeEmpty())
		Expect(word(im, at(im, "704.WMaxLimPctEna"))).To(Equal(uint16(0)))
		write(im, at(im, "704.WMaxLimPctRvrt"), 8000, 1) // and WMaxLimPctEnaRvrt behind it
		write(im, at(im, "704.WMaxLimPct"), 4000)
		write(im, at(im, "704.WMaxLimPctEna"), 1)
		Expect(lapse(registers.OutputLimit)).To(ConsistOf(signal(registers.OutputLimit, 0.8)))
		Expect(word(im, at(im, "704.WMaxLimPct"))).To(Equal(uint16(8000)))
		Expect(word(im, at(im, "704.WMaxLimPctEna"))).To(Equal(uint16(1)))
	})

	It("tell the time that is left", func() {
		im.Refresh(snapshot(registers.ReversionLeft, 12, registers.OutputReversionLeft, 0))
		Expect(words(im, at(im, "704.WSetRvrtRem"), 2)).To(Equal([]uint16{0, 12}))
		Expect(words(im, at(im, "704.WMaxLimPctRvrtRem"), 2)).To(Equal([]uint16{0, 0}))
	})

	It("permit and forbid service through model 703", func() {
		Expect(write(im, at(im, "703.ES"), 0)).To(ConsistOf(signal(registers.Connect, 0)))
		Expect(write(im, at(im, "703.ES"), 1)).To(ConsistOf(signal(registers.Connect, 1)))
	})
})

// settings of an invented device, with the default curves of two standards.
func settings() (s registers.Settings) {
	s = registers.Settings{NominalV: 230, NominalHz: 50, RampWps: 500, ChargeAh: 200, HasPV: true, Trips: true}
	s.EnterService = registers.EnterService{LowV: 0.917, HighV: 1.05, LowHz: 49.5, HighHz: 50.1, DelayS: 300, RampS: 50}
	// VoltVarCategoryB and VoltWatt1547 of package physics: IEEE Std 1547-2018.
	for _, p := range [][2]float64{{0.92, -0.44}, {0.98, 0}, {1.02, 0}, {1.08, 0.44}} {
		s.VoltVar.Add(p[0], p[1])
	}
	s.VoltVar.ResponseS = 5
	s.VoltWatt.Add(1.06, 1)
	s.VoltWatt.Add(1.10, 0.2)
	s.Droop = registers.Droop{UnderHz: 0.036, OverHz: 0.036, UnderDroop: 0.05, OverDroop: 0.05, ResponseS: 5}
	return s
}

var _ = Describe("The settings of a device in the 700 series", func() {
	der := func(s registers.Settings) *registers.Image {
		im := registers.NewImage(registers.SunSpecDER(), registers.Options{Ratings: ratings, Settings: s})
		im.Refresh(snapshot(registers.VoltageL1, 230, registers.VoltageL2, 230, registers.BatteryPower, 1200, registers.DCPower, 800,
			registers.BatteryVoltage, 51.2, registers.BatteryCurrent, 23.4, registers.Temperature, 24))
		return im
	}

	It("stand in 702 as ratings and settings", func() {
		im := der(settings())
		for name, want := range map[string]uint16{
			"WMaxRtg": 5000, "WMax": 5000, "VAMaxRtg": 5000, "WChaRteMaxRtg": 4000, "WDisChaRteMax": 5000, "VarMaxInjRtg": 2200, "VarMaxAbs": 2200,
			"VNomRtg": 3984, "AMaxRtg": 80,
		} {
			Expect(word(im, at(im, "702."+name))).To(Equal(want), name)
		}
		// Max power, fixed power, volt-var, droop, volt-watt and the four trips.
		Expect(words(im, at(im, "702.CtrlModes"), 2)).To(Equal([]uint16{0, 1 | 2 | 1<<4 | 1<<5 | 1<<7 | 1<<8 | 1<<10 | 1<<12 | 1<<13}))
		Expect(word(im, at(im, "702.WOvrExtRtg"))).To(Equal(uint16(0xFFFF)), "what the bench does not know is not implemented")
	})

	It("stand in 703", func() {
		im := der(settings())
		Expect(word(im, at(im, "703.ESVHi"))).To(Equal(uint16(1050)))
		Expect(word(im, at(im, "703.ESVLo"))).To(Equal(uint16(917)))
		Expect(words(im, at(im, "703.ESHzHi"), 4)).To(Equal([]uint16{0, 5010, 0, 4950}))
		Expect(words(im, at(im, "703.ESDlyTms"), 2)).To(Equal([]uint16{0, 300}))
		Expect(words(im, at(im, "703.ESRmpTms"), 2)).To(Equal([]uint16{0, 50}))
		bare := der(registers.Settings{})
		Expect(word(bare, at(bare, "703.ESVHi"))).To(Equal(uint16(0xFFFF)))
		Expect(word(bare, at(bare, "703.V_SF"))).To(Equal(uint16(0x8000)))
	})

	It("stand in 705 and 706 as one stored curve each, with a length that counts its points", func() {
		// SS-25: 705 is 13 + NCrv (10 + 2 NPt) and 706 is 13 + NCrv (5 + 2 NPt); recomputed.
		im := der(settings())
		Expect(word(im, at(im, "705.L"))).To(Equal(uint16(13 + 10 + 2*4)))
		Expect(word(im, at(im, "706.L"))).To(Equal(uint16(13 + 5 + 2*4)))
		Expect(words(im, at(im, "705.NPt"), 2)).To(Equal([]uint16{4, 1}))
		Expect(word(im, at(im, "705.Ena"))).To(Equal(uint16(1)))
		// Injection is positive: at 92 % of the voltage the device injects 44 %.
		Expect(words(im, at(im, "705.Crv[1].Pt[1].V"), 8)).To(Equal([]uint16{9200, 4400, 9800, 0, 10200, 0, 10800, 0xEED0}))
		Expect(word(im, at(im, "706.Crv[1].ActPt"))).To(Equal(uint16(2)))
		Expect(words(im, at(im, "706.Crv[1].Pt[1].V"), 8)).To(Equal([]uint16{10600, 10000, 11000, 2000, 0xFFFF, 0x8000, 0xFFFF, 0x8000}))
		bare := der(registers.Settings{})
		Expect(words(bare, at(bare, "705.Ena"), 5)).To(Equal([]uint16{0, 0, 1, 4, 1}))
		Expect(word(bare, at(bare, "705.Crv[1].ActPt"))).To(Equal(uint16(0)))
	})

	It("stand in 711 as one stored control", func() {
		im := der(settings())
		Expect(word(im, at(im, "711.L"))).To(Equal(uint16(12 + 10))) // SS-26: 12 + 10 NCtl
		Expect(words(im, at(im, "711.Ctl[1].DbOf"), 6)).To(Equal([]uint16{0, 36, 0, 36, 500, 500}))
		Expect(word(im, at(im, "711.Db_SF"))).To(Equal(uint16(0xFFFD)))
		Expect(word(im, at(im, "711.K_SF"))).To(Equal(uint16(0xFFFC)))
	})

	It("stand in 714 as a port for the battery and one for PV", func() {
		im := der(settings())
		Expect(word(im, at(im, "714.L"))).To(Equal(uint16(18 + 25*2))) // SS-26: 18 + 25 NPrt
		Expect(word(im, at(im, "714.NPrt"))).To(Equal(uint16(2)))
		Expect(word(im, at(im, "714.Prt[1].PrtTyp"))).To(Equal(uint16(1)))
		Expect(text(words(im, at(im, "714.Prt[1].IDStr"), 8))).To(Equal("battery"))
		Expect(int16(word(im, at(im, "714.Prt[1].DCW")))).To(Equal(int16(-1200)), "generation is positive by default")
		Expect(word(im, at(im, "714.Prt[1].DCV"))).To(Equal(uint16(512)))
		Expect(word(im, at(im, "714.Prt[1].Tmp"))).To(Equal(uint16(240)))
		Expect(int16(word(im, at(im, "714.Prt[2].DCW")))).To(Equal(int16(800)))
		Expect(int16(word(im, at(im, "714.DCW")))).To(Equal(int16(-400)))
		Expect(word(im, at(im, "714.Prt[2].ID"))).To(Equal(uint16(2)))
		alone := der(registers.Settings{})
		Expect(word(alone, at(alone, "714.NPrt"))).To(Equal(uint16(1)))
	})

	It("stand in the older models too", func() {
		im := registers.NewImage(registers.SunSpecBattery(3), registers.Options{Ratings: ratings, Settings: settings()})
		im.Refresh(snapshot(registers.SOC, 0.6, registers.ReserveSOC, 0.1, registers.BatteryVoltage, 51.2, registers.BatteryCurrent, -20, registers.BatteryPower, -1024,
			registers.OutputLimit, 0.5))
		Expect(word(im, at(im, "121.WGra"))).To(Equal(uint16(100)))      // 10 %/s at SF -1
		Expect(word(im, at(im, "121.ECPNomHz"))).To(Equal(uint16(5000))) // SF -2
		Expect(word(im, at(im, "124.WChaGra"))).To(Equal(uint16(125)))
		Expect(word(im, at(im, "124.StorAval"))).To(Equal(uint16(1000)))
		Expect(word(im, at(im, "802.AHRtg"))).To(Equal(uint16(2000)))
		Expect(word(im, at(im, "103.DCV"))).To(Equal(uint16(512)))
		Expect(word(im, at(im, "103.DCA"))).To(Equal(uint16(2000)))
		Expect(int16(word(im, at(im, "802.A")))).To(Equal(int16(2000)))
		Expect(words(im, at(im, "122.StActCtl"), 2)).To(Equal([]uint16{0, 1}))
	})

	It("change nothing for devices that are set alike", func() {
		m := registers.SunSpecDER()
		a := registers.NewImage(m, registers.Options{Ratings: ratings, Settings: settings()})
		b := registers.NewImage(m, registers.Options{Ratings: ratings, Settings: settings()})
		Expect(&a.Points()[0]).To(BeIdenticalTo(&b.Points()[0]), "they share one layout")
	})
})

package registers_test

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator/registers"
)

const mapFolder = "../../testdata/maps"

func load(file string) *registers.Map {
	GinkgoHelper()
	m, err := registers.LoadMap(filepath.Join(mapFolder, file))
	Expect(err).NotTo(HaveOccurred())
	return m
}

func input(im *registers.Image, address uint16, count int) []uint16 {
	GinkgoHelper()
	dst := make([]uint16, count)
	Expect(im.Read(registers.Input, address, dst)).To(Succeed())
	return dst
}

func parse(lines string) (*registers.Map, error) {
	return registers.ParseMap("map.yaml", []byte("map: m\nsignals:\n"+lines))
}

func imageOf(lines string) *registers.Image {
	GinkgoHelper()
	m, err := parse(lines)
	Expect(err).NotTo(HaveOccurred())
	return registers.NewImage(m, registers.Options{})
}

var _ = Describe("The example map awkward north", func() {
	var im *registers.Image
	BeforeEach(func() { im = registers.NewImage(load("awkward_north.yaml"), registers.Options{}) })

	It("turns the sign and scales", func() {
		// SS-60: -2345.6 at a tenth is -23456, here in an int32; recomputed.
		im.Refresh(snapshot(registers.ACPower, 2345.6, registers.SOC, 0.57))
		Expect(input(im, 0x0BB8, 2)).To(Equal([]uint16{0xFFFF, 0xA460}))
		Expect(input(im, 0x0BC0, 1)).To(Equal([]uint16{57}))
	})

	It("refuses gaps", func() {
		Expect(im.Read(registers.Input, 0x0BB8, make([]uint16, 3))).To(MatchError(registers.ErrIllegalAddress))
		Expect(im.Read(registers.Input, 0x0BC1, make([]uint16, 2))).To(MatchError(registers.ErrIllegalAddress))
		Expect(im.Read(registers.Coil, 0, make([]uint16, 1))).To(MatchError(registers.ErrIllegalAddress))
	})

	It("gives each command its lifetime", func() {
		Expect(write(im, 0x0834, 3600, 0)).To(Equal([]registers.Command{
			{Signal: registers.ChargeLimit, Value: 3600, Register: 0x0834, Raw: 3600, LastsS: 60},
			{Signal: registers.DischargeLimit, Value: 0, Register: 0x0835, Raw: 0, LastsS: 60},
		}))
		Expect(im.Write(0x0834, []uint16{3601}, nil)).To(MatchError(registers.ErrIllegalValue))
	})
})

var _ = Describe("The example map split east", func() {
	var im *registers.Image
	BeforeEach(func() { im = registers.NewImage(load("split_east.yaml"), registers.Options{}) })

	It("shows each direction in its own register", func() {
		im.Refresh(snapshot(registers.BatteryPower, 1500))
		Expect(input(im, 30, 2)).To(Equal([]uint16{150, 0}))
		im.Refresh(snapshot(registers.BatteryPower, -1500))
		Expect(input(im, 30, 2)).To(Equal([]uint16{0, 150}))
	})

	It("counts from 1, reads gaps as 0 and puts the low word first", func() {
		// MB-71: -2500.0 is C51C4000, IEEE 754; 0.001 kW is 1 W.
		im.Refresh(snapshot(registers.ACPower, -2500, registers.Temperature, 25))
		Expect(input(im, 38, 4)).To(Equal([]uint16{0, 0, 0x4000, 0xC51C}))
		Expect(input(im, 51, 1)).To(Equal([]uint16{65}))
	})

	It("obeys the set point only while the coil is on, as charging less discharging", func() {
		Expect(write(im, 10, 200, 0)).To(BeEmpty())
		var commands []registers.Command
		take := func(c registers.Command) { commands = append(commands, c) }
		Expect(im.WriteCoils(4, []uint16{1}, take)).To(Succeed())
		Expect(commands).To(HaveLen(2))
		Expect(commands[0]).To(And(HaveField("Signal", registers.Setpoint), HaveField("Value", 2000.0)))
		Expect(commands[1]).To(And(HaveField("Signal", registers.Enable), HaveField("Value", 1.0)))
		Expect(write(im, 10, 0, 300)).To(ConsistOf(HaveField("Value", -3000.0)))
		commands = nil
		Expect(im.WriteCoils(4, []uint16{0}, take)).To(Succeed())
		Expect(commands[0]).To(And(HaveField("Signal", registers.Setpoint), HaveField("Value", 0.0), HaveField("Withdrawn", true)))
	})

	It("refuses a coil that is neither 0 nor 1", func() {
		Expect(im.WriteCoils(4, []uint16{2}, nil)).To(MatchError(registers.ErrIllegalValue))
	})
})

var _ = Describe("The example map swapped west", func() {
	var im *registers.Image
	BeforeEach(func() {
		im = registers.NewImage(load("swapped_west.yaml"), registers.Options{Model: "W-5",
			Ratings: registers.Ratings{ChargePowerW: 6400, DischargePowerW: 6400}})
	})

	It("swaps bytes and words, texts in their bytes only", func() {
		// MB-70: DCBA of 123456.0 is 0020 F147; libmodbus tests/unit-test.h.in.
		im.Refresh(snapshot(registers.ACPower, -123456.0, registers.EnergyExported, 258))
		Expect(words(im, 10, 2)).To(Equal([]uint16{0x0020, 0xF147}))
		Expect(words(im, 12, 4)).To(Equal([]uint16{0x0201, 0, 0, 0}))
		Expect(words(im, 0, 2)).To(Equal([]uint16{'-'<<8 | 'W', '5'}))
	})

	It("obeys limits only in the mode that they need", func() {
		Expect(write(im, 101, 0xD007, 0)).To(BeEmpty()) // 2000 W, low byte and low word first
		commands := write(im, 100, 20<<8)
		Expect(commands).To(HaveLen(3))
		Expect(commands[0]).To(And(HaveField("Signal", registers.Mode), HaveField("Value", float64(registers.ModeHold))))
		Expect(commands[1]).To(And(HaveField("Signal", registers.ChargeLimit), HaveField("Value", 2000.0)))
		Expect(commands[2]).To(And(HaveField("Signal", registers.DischargeLimit), HaveField("Value", 6400.0)))
		Expect(im.Write(100, []uint16{21 << 8}, nil)).To(MatchError(registers.ErrIllegalValue))
		Expect(im.Write(101, []uint16{0}, nil)).To(MatchError(registers.ErrIllegalAddress), "half a value")
	})

	It("counts coils and discrete inputs from their own numbers", func() {
		im.Refresh(snapshot(registers.CheapSlot, 1))
		bit := make([]uint16, 1)
		Expect(im.Read(registers.Discrete, 1, bit)).To(Succeed())
		Expect(bit).To(Equal([]uint16{1}))
		Expect(im.Read(registers.Coil, 0, bit)).To(Succeed())
		Expect(bit).To(Equal([]uint16{1}), "connected until told otherwise")
	})
})

var _ = Describe("The built-in maps", func() {
	It("all load, describe themselves and are shared", func() {
		for _, name := range registers.BuiltinNames() {
			m, err := registers.Builtin(name)
			Expect(err).NotTo(HaveOccurred())
			Expect(m.Name).To(Equal(name))
			again, _ := registers.Builtin(name)
			Expect(again).To(BeIdenticalTo(m))
			text, err := json.Marshal(m.Describe())
			Expect(err).NotTo(HaveOccurred())
			Expect(string(text)).To(ContainSubstring(`"map":"` + name + `"`))
		}
	})

	It("answer an unknown name with the nearest", func() {
		_, err := registers.Builtin("bench clok")
		Expect(err).To(MatchError(ContainSubstring(`did you mean "bench clock"?`)))
	})

	It("offer time in two widths, of which the short one wraps", func() {
		m, _ := registers.Builtin("bench clock")
		im := registers.NewImage(m, registers.Options{})
		im.Refresh(snapshot(registers.TimeMS, float64(1<<32)+1500, registers.UnixTime, 1781778600, registers.LocalSecondOfDay, 37800, registers.LocalWeekday, 4))
		Expect(input(im, 0, 11)).To(Equal([]uint16{0, 1500, 0, 1, 0, 1500, 0x6A33, 0xC8A8, 0, 37800, 4}))
		Expect(write(im, 0, 1, 0)).To(ConsistOf(And(HaveField("Signal", registers.WaitMS), HaveField("Value", 65536.0))))
	})

	It("let south be steered with discharge positive", func() {
		m, _ := registers.Builtin("south")
		im := registers.NewImage(m, registers.Options{Ratings: registers.Ratings{PowerW: 3600, CapacityWh: 6400}})
		im.Refresh(snapshot(registers.ACPower, -1000, registers.SOC, 0.573))
		Expect(input(im, 0x100, 2)).To(Equal([]uint16{1000, 0}))
		Expect(input(im, 0x104, 1)).To(Equal([]uint16{573}))
		Expect(input(im, 0x18, 2)).To(Equal([]uint16{360, 64}))
		Expect(write(im, 0x201, 1500, 0)).To(ConsistOf(And(HaveField("Signal", registers.Setpoint), HaveField("Value", -1500.0), HaveField("LastsS", 60.0))))
		Expect(write(im, 0x200, 2)).To(ConsistOf(HaveField("Value", float64(registers.ModeSetpoint))))
	})

	It("carry the charger and the tariff", func() {
		m, _ := registers.Builtin("charger")
		im := registers.NewImage(m, registers.Options{})
		Expect(write(im, 0, 160)).To(ConsistOf(And(HaveField("Signal", registers.MaxCurrent), HaveField("Value", 16.0))))
		m, _ = registers.Builtin("tariff")
		im = registers.NewImage(m, registers.Options{})
		im.Refresh(snapshot(registers.CheapSlot, 1, registers.Price, -0.0125))
		Expect(input(im, 0, 3)).To(Equal([]uint16{1, 0xFFFF, 0xFF83}))
	})
})

var _ = Describe("A declared register", func() {
	DescribeTable("holds a float in any order of words and bytes",
		// MB-70: libmodbus tests/unit-test.h.in.
		func(words, bytes string, want ...uint16) {
			m, err := registers.ParseMap("m", []byte("map: m\nwords: "+words+"\nbytes: "+bytes+"\nsignals:\n  ac_power: input 0 float32 x 1 W\n"))
			Expect(err).NotTo(HaveOccurred())
			im := registers.NewImage(m, registers.Options{})
			im.Refresh(snapshot(registers.ACPower, 123456.0))
			Expect(input(im, 0, 2)).To(Equal(want))
		},
		Entry("ABCD", "high word first", "high byte first", uint16(0x47F1), uint16(0x2000)),
		Entry("CDAB", "low word first", "high byte first", uint16(0x2000), uint16(0x47F1)),
		Entry("BADC", "high word first", "low byte first", uint16(0xF147), uint16(0x0020)),
		Entry("DCBA", "low word first", "low byte first", uint16(0x0020), uint16(0xF147)))

	DescribeTable("holds numbers as IEEE 754 and two's complement say",
		// MB-71: IEEE 754; MB-72: two's complement; both recomputed.
		func(form string, x float64, want ...uint16) {
			im := imageOf("  ac_power: input 0 " + form + " x 1 W")
			im.Refresh(snapshot(registers.ACPower, x))
			Expect(input(im, 0, len(want))).To(Equal(want))
		},
		Entry(nil, "float32", 1.0, uint16(0x3F80), uint16(0)), Entry(nil, "float32", -1.0, uint16(0xBF80), uint16(0)),
		Entry(nil, "float32", 230.5, uint16(0x4366), uint16(0x8000)), Entry(nil, "float32", -2500.0, uint16(0xC51C), uint16(0x4000)),
		Entry(nil, "float32", 49.98, uint16(0x4247), uint16(0xEB85)),
		Entry(nil, "int16", -1.0, uint16(0xFFFF)), Entry(nil, "int32", -1.0, uint16(0xFFFF), uint16(0xFFFF)),
		Entry(nil, "int16", -2500.0, uint16(0xF63C)), Entry(nil, "int32", -2500.0, uint16(0xFFFF), uint16(0xF63C)),
		Entry(nil, "int32", -32768.0, uint16(0xFFFF), uint16(0x8000)),
		// The reserved value of an int16 is never the outcome of clipping (SS-63).
		Entry(nil, "int16", -32768.0, uint16(0x8001)), Entry(nil, "int16", 1e9, uint16(0x7FFF)),
		Entry(nil, "uint16", 1e9, uint16(0xFFFE)), Entry(nil, "uint16", -5.0, uint16(0)),
		Entry(nil, "int64", -1e30, uint16(0x8000), uint16(0), uint16(0), uint16(0x0400)),
		Entry(nil, "uint64", 1e30, uint16(0xFFFF), uint16(0xFFFF), uint16(0xFFFF), uint16(0xF800)),
		Entry(nil, "int16", math.NaN(), uint16(0x8000)), Entry(nil, "uint16", math.NaN(), uint16(0xFFFF)))

	It("scales by powers of ten without losing the half", func() {
		// 12000 W at a scale of 10 is 1200, 04B0: SS-64, recomputed. 0.35 at 0.1 rounds to 4, by hand.
		im := imageOf("  ac_power: input 0 int16 x 10 W\n  price: input 1 int16 x 0.1")
		im.Refresh(snapshot(registers.ACPower, 12000, registers.Price, 0.35))
		Expect(input(im, 0, 2)).To(Equal([]uint16{0x04B0, 4}))
	})

	It("takes no number that is not one", func() {
		im := imageOf("  setpoint: holding 0 float32 x 1 W, writable")
		Expect(im.Write(0, []uint16{0x7FC0, 0}, nil)).To(MatchError(registers.ErrIllegalValue))
		Expect(im.Write(0, []uint16{0x7F80, 0}, nil)).To(MatchError(registers.ErrIllegalValue))
	})

	It("bounds writes in the unit of its line, with the offset", func() {
		im := imageOf("  charge_limit: holding 0 uint16 x 0.1 kW, -1..2.5, offset -1, writable")
		Expect(write(im, 0, 0)).To(ConsistOf(HaveField("Value", -1000.0)))
		Expect(write(im, 0, 35)).To(ConsistOf(HaveField("Value", 2500.0)))
		Expect(im.Write(0, []uint16{36}, nil)).To(MatchError(registers.ErrIllegalValue))
	})

	It("says which file is missing", func() {
		_, err := registers.LoadMap(filepath.Join(mapFolder, "no_such.yaml"))
		Expect(err).To(MatchError(os.ErrNotExist))
	})

	It("describes what a SunSpec limit needs and how long it lasts", func() {
		im := registers.NewImage(registers.SunSpecInverter(3), registers.Options{Ratings: ratings})
		for _, p := range im.Describe().Points {
			if p.Name != "124.InWRte" {
				continue
			}
			Expect(p.Signal).To(Equal("charge_limit"))
			Expect(p.Scale).To(BeNumerically("~", 0.4, 1e-12), "4000 W / 100 % x 0.01")
			Expect(*p.Min).To(Equal(-4000.0))
			Expect(*p.Max).To(Equal(4000.0))
			Expect(*p.Needs).To(Equal(registers.NeedDescription{Table: "holding", Address: 40259, Mask: 1, Raw: 1}))
			Expect(*p.TimerAddress).To(Equal(uint16(40269)))
			return
		}
		Fail("not described")
	})

	It("describes how it is decoded", func() {
		d := load("awkward_north.yaml").Describe()
		text, err := json.MarshalIndent(d.Points[0], "", " ")
		Expect(err).NotTo(HaveOccurred())
		Expect(string(text)).To(MatchJSON(`{"name":"charge_limit","signal":"charge_limit","table":"holding","address":2100,
			"registers":1,"type":"uint16","scale":1,"unit":"W","sign":1,"access":"read and write","min":0,"max":3600,
			"lasts_s":60,"unknown":"0xFFFF"}`))
		Expect(d.Points[2]).To(And(HaveField("Name", "ac_power"), HaveField("Sign", -1), HaveField("Scale", 0.1), HaveField("Unknown", "0x80000000")))
	})
})

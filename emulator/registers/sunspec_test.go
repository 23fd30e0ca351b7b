package registers_test

import (
	"math"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator/registers"
	"kilter/emulator/registers/sunspec"
)

// bakery ratings: an invented 5 kW inverter with a 10 kWh battery that charges with up to 4 kW.
var ratings = registers.Ratings{PowerW: 5000, ApparentPowerVA: 5000, CurrentA: 8, ChargePowerW: 4000, DischargePowerW: 5000, CapacityWh: 10000}

func words(im *registers.Image, address uint16, count int) []uint16 {
	GinkgoHelper()
	dst := make([]uint16, count)
	Expect(im.Read(registers.Holding, address, dst)).To(Succeed())
	return dst
}

func word(im *registers.Image, address uint16) uint16 {
	GinkgoHelper()
	return words(im, address, 1)[0]
}

// at is the address of a SunSpec point of the image.
func at(im *registers.Image, name string) uint16 {
	GinkgoHelper()
	p := im.Point(name)
	Expect(p).NotTo(BeNil(), name)
	return p.Address
}

func text(w []uint16) string {
	var b strings.Builder
	for _, x := range w {
		b.WriteByte(byte(x >> 8))
		b.WriteByte(byte(x))
	}
	return strings.TrimRight(b.String(), "\x00")
}

// write writes and returns the commands that came out.
func write(im *registers.Image, address uint16, values ...uint16) []registers.Command {
	GinkgoHelper()
	var commands []registers.Command
	Expect(im.Write(address, values, func(c registers.Command) { commands = append(commands, c) })).To(Succeed())
	return commands
}

func snapshot(pairs ...any) *registers.Values {
	v := registers.Unknown()
	for i := 0; i < len(pairs); i += 2 {
		switch x := pairs[i+1].(type) {
		case int:
			v[pairs[i].(registers.Signal)] = float64(x)
		case float64:
			v[pairs[i].(registers.Signal)] = x
		}
	}
	return &v
}

var _ = Describe("A SunSpec chain", func() {
	It("opens with the marker and closes with the end model", func() {
		// SS-01: pysunspec2 sunspec2/modbus/client.py. SS-03: pysunspec2 sunspec2/mb.py; length 0 from memory.
		im := registers.NewImage(registers.SunSpecInverter(3), registers.Options{Ratings: ratings})
		Expect(words(im, 40000, 2)).To(Equal([]uint16{21365, 28243}))
		Expect(words(im, 40280, 2)).To(Equal([]uint16{0xFFFF, 0}))
		Expect(im.Read(registers.Holding, 40282, make([]uint16, 1))).To(MatchError(registers.ErrIllegalAddress))
		Expect(im.Read(registers.Holding, 39999, make([]uint16, 2))).To(MatchError(registers.ErrIllegalAddress))
	})

	DescribeTable("stands at any base", func(base int, first uint16) {
		// SS-02: 40000, 0 and 50000; pysunspec2 tests/test_modbus_client.py.
		im := registers.NewImage(registers.SunSpecMeter(3), registers.Options{Base: base})
		Expect(words(im, first, 2)).To(Equal(sunspec.Marker[:]))
		Expect(words(im, first+2, 2)).To(Equal([]uint16{1, 66}))
	}, Entry("default", 0, uint16(40000)), Entry("zero", registers.AtZero, uint16(0)), Entry("50000", 50000, uint16(50000)))

	It("refuses a base from which the chain runs out of addresses", func() {
		Expect(registers.SunSpecMeter(3).Check(registers.Options{Base: 65500})).NotTo(Succeed())
	})

	walk := func(im *registers.Image) (ids []uint16, starts []int) {
		for address := 40002; ; {
			head := words(im, uint16(address), 2)
			ids, starts = append(ids, head[0]), append(starts, address)
			if head[0] == sunspec.EndModel {
				return ids, starts
			}
			address += 2 + int(head[1])
		}
	}

	It("can be walked for an inverter with storage", func() {
		// SS-28: next = address + 2 + L, recomputed.
		ids, starts := walk(registers.NewImage(registers.SunSpecInverter(3), registers.Options{}))
		Expect(ids).To(Equal([]uint16{1, 103, 120, 121, 122, 123, 124, 0xFFFF}))
		Expect(starts).To(Equal([]int{40002, 40070, 40122, 40150, 40182, 40228, 40254, 40280}))
	})

	It("can be walked for a meter", func() {
		// SS-29, recomputed.
		ids, starts := walk(registers.NewImage(registers.SunSpecMeter(3), registers.Options{}))
		Expect(ids).To(Equal([]uint16{1, 203, 0xFFFF}))
		Expect(starts).To(Equal([]int{40002, 40070, 40177}))
	})

	It("can be made of every model at hand", func() {
		for _, id := range sunspec.IDs() {
			if id == 1 {
				continue
			}
			m, err := registers.SunSpecMap("one", 1, id)
			Expect(err).NotTo(HaveOccurred())
			ids, _ := walk(registers.NewImage(m, registers.Options{}))
			Expect(ids).To(Equal([]uint16{1, id, 0xFFFF}))
		}
	})

	It("refuses a model that is unknown, twice there, or commands what another one commands", func() {
		_, err := registers.SunSpecMap("x", 1, 999)
		Expect(err).To(MatchError(ContainSubstring("no SunSpec model 999")))
		_, err = registers.SunSpecMap("x", 1, 103, 103)
		Expect(err).To(MatchError(ContainSubstring("stands twice")))
		_, err = registers.SunSpecMap("x", 103)
		Expect(err).To(MatchError(ContainSubstring("opens with model 1")))
		_, err = registers.SunSpecMap("x", 1, 123, 704)
		Expect(err).To(MatchError(ContainSubstring("would both command")))
	})

	It("says who made it, padded with NUL", func() {
		im := registers.NewImage(registers.SunSpecInverter(3), registers.Options{Model: "North", Serial: "K-0001"})
		Expect(text(words(im, at(im, "1.Mn"), 16))).To(Equal("kilter bench"))
		Expect(text(words(im, at(im, "1.Md"), 16))).To(Equal("North"))
		Expect(words(im, at(im, "1.Md")+3, 13)).To(HaveEach(uint16(0)))
		Expect(text(words(im, at(im, "1.SN"), 16))).To(Equal("K-0001"))
	})

	It("is made once, and shared by the devices on it", func() {
		Expect(registers.SunSpecBattery(3)).To(BeIdenticalTo(registers.SunSpecBattery(3)))
		Expect(registers.SunSpecFloat(registers.SunSpecMeter(1))).To(BeIdenticalTo(registers.SunSpecFloat(registers.SunSpecMeter(1))))
		Expect(registers.SunSpecBattery(1)).NotTo(BeIdenticalTo(registers.SunSpecBattery(3)))
	})

	It("tells the unit that it answers to", func() {
		im := registers.NewImage(registers.SunSpecMeter(3), registers.Options{Unit: 7})
		Expect(word(im, at(im, "1.DA"))).To(Equal(uint16(7)))
	})

	It("cuts a text that is longer than its point", func() {
		im := registers.NewImage(registers.SunSpecMeter(1), registers.Options{Model: strings.Repeat("m", 100)})
		Expect(text(words(im, at(im, "1.Md"), 16))).To(Equal(strings.Repeat("m", 32)))
		Expect(text(words(im, at(im, "1.Opt"), 8))).To(BeEmpty())
	})

	It("reads half a value and any window as it reads the whole", func() {
		im := registers.NewImage(registers.SunSpecBattery(3), registers.Options{Ratings: ratings})
		im.Refresh(snapshot(registers.ACPower, -1234, registers.EnergyExported, 1e6, registers.SOC, 0.5))
		size := int(at(im, "end.L")) - 40000 + 1
		whole := make([]uint16, size)
		for i := 0; i < size; i++ {
			whole[i] = word(im, uint16(40000+i))
		}
		for start := 0; start < size; start += 7 {
			count := min(125, size-start)
			Expect(words(im, uint16(40000+start), count)).To(Equal(whole[start : start+count]))
		}
	})
})

var _ = Describe("The values of a SunSpec inverter", func() {
	var im *registers.Image
	BeforeEach(func() {
		im = registers.NewImage(registers.SunSpecBattery(3), registers.Options{Ratings: ratings})
	})

	DescribeTable("stand where the standard puts them",
		// SS-30, SS-33, SS-35, SS-36 with the model starts of SS-28: offsets in the SunSpec model definitions.
		func(name string, model, offset int) { Expect(at(im, name)).To(Equal(uint16(model + offset))) },
		Entry(nil, "103.A", 40070, 2), Entry(nil, "103.PhVphA", 40070, 10), Entry(nil, "103.W", 40070, 14),
		Entry(nil, "103.W_SF", 40070, 15), Entry(nil, "103.Hz", 40070, 16), Entry(nil, "103.VAr", 40070, 20),
		Entry(nil, "103.WH", 40070, 24), Entry(nil, "103.DCW", 40070, 31), Entry(nil, "103.St", 40070, 38),
		Entry(nil, "103.Evt1", 40070, 40),
		Entry(nil, "120.WRtg", 40122, 3), Entry(nil, "120.WHRtg", 40122, 19), Entry(nil, "120.MaxChaRte", 40122, 23),
		Entry(nil, "120.MaxDisChaRte", 40122, 25), Entry(nil, "121.WMax", 40150, 2),
		Entry(nil, "123.Conn", 40228, 4), Entry(nil, "123.WMaxLimPct", 40228, 5),
		Entry(nil, "123.WMaxLimPct_RvrtTms", 40228, 7), Entry(nil, "123.WMaxLim_Ena", 40228, 9),
		Entry(nil, "123.WMaxLimPct_SF", 40228, 23),
		Entry(nil, "124.WChaMax", 40254, 2), Entry(nil, "124.StorCtl_Mod", 40254, 5), Entry(nil, "124.MinRsvPct", 40254, 7),
		Entry(nil, "124.ChaState", 40254, 8), Entry(nil, "124.ChaSt", 40254, 11), Entry(nil, "124.OutWRte", 40254, 12),
		Entry(nil, "124.InWRte", 40254, 13), Entry(nil, "124.InOutWRte_RvrtTms", 40254, 15),
		Entry(nil, "124.ChaGriSet", 40254, 17), Entry(nil, "124.InOutWRte_SF", 40254, 25),
		// SS-39, SS-40; model 713 follows at 40280 and 802 at 40289.
		Entry(nil, "713.WHRtg", 40280, 2), Entry(nil, "713.WHAvail", 40280, 3), Entry(nil, "713.SoC", 40280, 4),
		Entry(nil, "802.SoC", 40289, 11), Entry(nil, "802.Hb", 40289, 18), Entry(nil, "802.V", 40289, 34),
		Entry(nil, "802.A", 40289, 44), Entry(nil, "802.W", 40289, 47),
	)

	It("count generation and discharge as positive by default, and the other way on request", func() {
		// SS-55, SS-56: the standard leaves the sign of 103 open; positive generation is the usual reading.
		v := snapshot(registers.ACPower, -2500, registers.BatteryPower, -2600, registers.ACCurrent, -3.6)
		im.Refresh(v)
		Expect(int16(word(im, at(im, "103.W")))).To(Equal(int16(2500)))
		Expect(int16(word(im, at(im, "103.DCW")))).To(Equal(int16(2600)))
		Expect(word(im, at(im, "103.A"))).To(Equal(uint16(360)))
		other := registers.NewImage(registers.SunSpecBattery(3), registers.Options{Ratings: ratings, Sign: registers.SignInto})
		other.Refresh(v)
		Expect(int16(word(other, at(other, "103.W")))).To(Equal(int16(-2500)))
		Expect(word(other, at(other, "103.W"))).To(Equal(uint16(0xF63C))) // MB-72, two's complement
		Expect(int16(word(other, at(other, "103.DCW")))).To(Equal(int16(-2600)))
	})

	It("scale as value = raw x 10^SF", func() {
		// SS-61: 57.3 %, 49.98 Hz and 230.5 V; rule in pysunspec2 sunspec2/device.py, recomputed.
		im.Refresh(snapshot(registers.SOC, 0.573, registers.Frequency, 49.98, registers.VoltageL1, 230.5))
		Expect(words(im, at(im, "124.ChaState"), 1)).To(Equal([]uint16{0x023D}))
		Expect(word(im, at(im, "124.ChaState_SF"))).To(Equal(uint16(0xFFFF)))
		Expect(word(im, at(im, "103.Hz"))).To(Equal(uint16(0x1386)))
		Expect(word(im, at(im, "103.Hz_SF"))).To(Equal(uint16(0xFFFE))) // SS-62: SF -2 itself
		Expect(word(im, at(im, "103.PhVphA"))).To(Equal(uint16(0x0901)))
		Expect(word(im, at(im, "103.V_SF"))).To(Equal(uint16(0xFFFF)))
	})

	It("show the nameplate", func() {
		Expect(word(im, at(im, "120.WRtg"))).To(Equal(uint16(5000)))
		Expect(word(im, at(im, "120.WHRtg"))).To(Equal(uint16(10000)))
		Expect(word(im, at(im, "120.MaxChaRte"))).To(Equal(uint16(4000)))
		Expect(word(im, at(im, "124.WChaMax"))).To(Equal(uint16(4000)))
	})

	It("keep rating x state of charge x health equal to the energy available", func() {
		// SS-39: "WHAvail = WHRtg * SoC * SoH", model_713.json.
		im.Refresh(snapshot(registers.SOC, 0.5, registers.SOH, 0.9))
		Expect(word(im, at(im, "713.WHAvail"))).To(Equal(uint16(4500)))
		Expect(word(im, at(im, "713.SoH"))).To(Equal(uint16(900)))
	})

	It("count lifetime energy modulo the accumulator", func() {
		im.Refresh(snapshot(registers.EnergyExported, float64(1<<32)+5.9, registers.TimeMS, 65537*1000))
		Expect(words(im, at(im, "103.WH"), 2)).To(Equal([]uint16{0, 5}))
		Expect(words(im, at(im, "122.ActWh"), 4)).To(Equal([]uint16{0, 1, 0, 5}))
		Expect(word(im, at(im, "802.Hb"))).To(Equal(uint16(1))) // SS-40: "incremented every second"
	})

	It("read as unimplemented where nothing is known", func() {
		// SS-04 to SS-09: pysunspec2 tests/test_mb.py.
		Expect(word(im, at(im, "103.W"))).To(Equal(uint16(0x8000)))
		Expect(word(im, at(im, "103.A"))).To(Equal(uint16(0xFFFF)))
		Expect(word(im, at(im, "103.St"))).To(Equal(uint16(0xFFFF)))
		Expect(words(im, at(im, "103.EvtVnd1"), 2)).To(Equal([]uint16{0xFFFF, 0xFFFF}))
		Expect(words(im, at(im, "103.WH"), 2)).To(Equal([]uint16{0, 0}))
		Expect(word(im, at(im, "124.StorAval_SF"))).To(Equal(uint16(0x8000)))
		Expect(word(im, at(im, "1.Pad"))).To(Equal(uint16(0)))
	})

	It("show one phase through model 101", func() {
		single := registers.NewImage(registers.SunSpecInverter(1), registers.Options{Ratings: ratings})
		single.Refresh(snapshot(registers.VoltageL1, 231, registers.ACPower, 1000))
		Expect(word(single, 40070)).To(Equal(uint16(101)))
		Expect(word(single, at(single, "101.PhVphA"))).To(Equal(uint16(2310)))
		Expect(word(single, at(single, "101.PhVphB"))).To(Equal(uint16(0xFFFF)))
	})

	It("come as floats through model 113", func() {
		// SS-31: W 22; MB-71: -2500.0 is C51C4000, IEEE 754. SS-11: float32 unknown is 7FC00000, pysunspec2 sunspec2/mb.py.
		m, err := registers.SunSpecMap("float", 1, 113)
		Expect(err).NotTo(HaveOccurred())
		float := registers.NewImage(m, registers.Options{Sign: registers.SignInto})
		float.Refresh(snapshot(registers.ACPower, -2500))
		Expect(at(float, "113.W")).To(Equal(uint16(40070 + 22)))
		Expect(at(float, "113.Hz")).To(Equal(uint16(40070 + 24)))
		Expect(words(float, at(float, "113.W"), 2)).To(Equal([]uint16{0xC51C, 0x4000}))
		Expect(words(float, at(float, "113.Hz"), 2)).To(Equal([]uint16{0x7FC0, 0}))
	})

	It("carry a power beyond the register's reach clipped, never as the reserved value", func() {
		// SS-63: recomputed from the rule in pysunspec2 sunspec2/device.py.
		for _, w := range []float64{1e9, -1e9, math.Inf(1), math.Inf(-1)} {
			im.Refresh(snapshot(registers.ACPower, w))
			Expect(word(im, at(im, "103.W"))).NotTo(Equal(uint16(0x8000)))
		}
	})
})

var _ = Describe("Scale factors", func() {
	DescribeTable("follow the rating, so that twice the rating fits", func(rating float64, exponent int16) {
		// SS-63: int16 carries 3276.7, 32767 and 327670 W at SF -1, 0 and 1; recomputed.
		im := registers.NewImage(registers.SunSpecInverter(3), registers.Options{Ratings: registers.Ratings{PowerW: rating}})
		Expect(int16(word(im, at(im, "103.W_SF")))).To(Equal(exponent))
	},
		Entry(nil, 1638.0, int16(-1)), Entry(nil, 1639.0, int16(0)), Entry(nil, 5000.0, int16(0)),
		Entry(nil, 16383.0, int16(0)), Entry(nil, 16384.0, int16(1)), Entry(nil, 250000.0, int16(2)))
})

var _ = Describe("The values of a SunSpec meter", func() {
	It("stand where the standard puts them and count import as positive", func() {
		// SS-32: offsets in model_203.json; sign: SS-55, the usual reading.
		im := registers.NewImage(registers.SunSpecMeter(3), registers.Options{Ratings: registers.Ratings{PowerW: 12000}})
		im.Refresh(snapshot(registers.ACPower, 3000, registers.ACPowerL2, -500, registers.Frequency, 50,
			registers.EnergyImported, 70000, registers.EnergyExported, 9))
		Expect(word(im, 40070+18)).To(Equal(uint16(3000)))
		Expect(int16(word(im, 40070+20))).To(Equal(int16(-500)))
		Expect(word(im, 40070+22)).To(Equal(uint16(0)))
		Expect(word(im, 40070+16)).To(Equal(uint16(5000)))
		Expect(words(im, 40070+38, 2)).To(Equal([]uint16{0, 9}))
		Expect(words(im, 40070+46, 2)).To(Equal([]uint16{1, 4464}))
		Expect(words(im, 40070+105, 2)).To(Equal([]uint16{0, 0}))
	})

	It("count export as positive on request", func() {
		im := registers.NewImage(registers.SunSpecMeter(3), registers.Options{Sign: registers.SignOutOf})
		im.Refresh(snapshot(registers.ACPower, 3000))
		Expect(int16(word(im, 40070+18))).To(Equal(int16(-3000)))
	})

	It("average the voltages that are there", func() {
		im := registers.NewImage(registers.SunSpecMeter(3), registers.Options{})
		im.Refresh(snapshot(registers.VoltageL1, 230, registers.VoltageL2, 232))
		Expect(word(im, at(im, "203.PhV"))).To(Equal(uint16(2310)))
	})
})

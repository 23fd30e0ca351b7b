package registers_test

import (
	"math"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator/registers"
)

var _ = Describe("Writes to a SunSpec battery inverter", func() {
	var im *registers.Image
	BeforeEach(func() {
		im = registers.NewImage(registers.SunSpecInverter(3), registers.Options{Ratings: ratings})
		im.Refresh(snapshot(registers.ACPower, 0))
	})
	value := func(percent float64) uint16 { return uint16(int16(math.Round(percent * 100))) }

	It("limit charging in percent of the rated charge power while bit 0 is set", func() {
		// SS-62: -50 % at SF -2 is -5000, EC78; 60 % is 1770; recomputed.
		Expect(value(-50)).To(Equal(uint16(0xEC78)))
		Expect(value(60)).To(Equal(uint16(0x1770)))
		Expect(word(im, at(im, "124.InOutWRte_SF"))).To(Equal(uint16(0xFFFE)))
		Expect(write(im, at(im, "124.InWRte"), value(60))).To(BeEmpty(), "the control is not active yet")
		Expect(word(im, at(im, "124.InWRte"))).To(Equal(uint16(0x1770)), "but reads back at once")
		commands := write(im, at(im, "124.StorCtl_Mod"), 1)
		Expect(commands).To(HaveLen(1))
		Expect(commands[0].Signal).To(Equal(registers.ChargeLimit))
		Expect(commands[0].Value).To(Equal(2400.0))
		Expect(commands[0].Register).To(Equal(at(im, "124.InWRte")))
	})

	It("are told to be idle while their bit is not set", func() {
		point, needs := im.Idle(registers.Holding, at(im, "124.InWRte"), 1)
		Expect([]string{point, needs}).To(Equal([]string{"124.InWRte", "124.StorCtl_Mod"}))
		write(im, at(im, "124.StorCtl_Mod"), 1)
		point, _ = im.Idle(registers.Holding, at(im, "124.InWRte"), 1)
		Expect(point).To(BeEmpty())
		point, _ = im.Idle(registers.Holding, 0, 10)
		Expect(point).To(BeEmpty(), "outside the map")
	})

	It("force charging by a negative discharge rate, in percent of the rated discharge power", func() {
		write(im, at(im, "124.StorCtl_Mod"), 2)
		commands := write(im, at(im, "124.OutWRte"), value(-50))
		Expect(commands).To(HaveLen(1))
		Expect(commands[0].Signal).To(Equal(registers.DischargeLimit))
		Expect(commands[0].Value).To(Equal(-2500.0))
	})

	It("give the ratings back when the bits are cleared", func() {
		write(im, at(im, "124.OutWRte"), value(10), value(20))
		write(im, at(im, "124.StorCtl_Mod"), 3)
		commands := write(im, at(im, "124.StorCtl_Mod"), 2)
		Expect(commands).To(HaveLen(2))
		Expect(commands[0].Signal).To(Equal(registers.DischargeLimit))
		Expect(commands[0].Value).To(Equal(500.0))
		Expect(commands[1]).To(And(HaveField("Signal", registers.ChargeLimit), HaveField("Value", 4000.0), HaveField("Withdrawn", true)))
		commands = write(im, at(im, "124.StorCtl_Mod"), 0)
		Expect(commands).To(HaveLen(1))
		Expect(commands[0]).To(And(HaveField("Signal", registers.DischargeLimit), HaveField("Value", 5000.0), HaveField("Withdrawn", true)))
	})

	It("carry the reversion time with the limits", func() {
		write(im, at(im, "124.StorCtl_Mod"), 3)
		commands := write(im, at(im, "124.OutWRte"), value(30), value(40), 0, 90)
		Expect(commands).To(HaveLen(3))
		Expect(commands[0]).To(And(HaveField("Signal", registers.DischargeLimit), HaveField("LastsS", 90.0)))
		Expect(commands[1]).To(And(HaveField("Signal", registers.ChargeLimit), HaveField("LastsS", 90.0)))
		Expect(commands[2]).To(And(HaveField("Signal", registers.ReversionTime), HaveField("Value", 90.0)))
	})

	It("limit the output as a fraction of the rating while enabled", func() {
		commands := write(im, at(im, "123.WMaxLimPct"), value(60), 0, 30, 0, 1)
		Expect(commands).To(HaveLen(2))
		Expect(commands[0]).To(And(HaveField("Signal", registers.OutputLimit), HaveField("LastsS", 30.0)))
		Expect(commands[0].Value).To(BeNumerically("~", 0.6, 1e-15))
		Expect(write(im, at(im, "123.WMaxLim_Ena"), 0)).To(ConsistOf(
			And(HaveField("Signal", registers.OutputLimit), HaveField("Value", 1.0), HaveField("Withdrawn", true))))
	})

	It("connect, disconnect and set the reserve", func() {
		Expect(word(im, at(im, "123.Conn"))).To(Equal(uint16(1)))
		Expect(write(im, at(im, "123.Conn"), 0)).To(ConsistOf(And(HaveField("Signal", registers.Connect), HaveField("Value", 0.0))))
		commands := write(im, at(im, "124.MinRsvPct"), value(25))
		Expect(commands).To(HaveLen(1))
		Expect(commands[0].Signal).To(Equal(registers.Reserve))
		Expect(commands[0].Value).To(BeNumerically("~", 0.25, 1e-15))
	})

	DescribeTable("are refused outside the range", func(point string, raw uint16) {
		before := word(im, at(im, point))
		err := im.Write(at(im, point), []uint16{raw}, func(registers.Command) { Fail("emitted") })
		Expect(err).To(MatchError(registers.ErrIllegalValue))
		Expect(word(im, at(im, point))).To(Equal(before))
	},
		Entry(nil, "124.InWRte", uint16(10001)), Entry(nil, "124.InWRte", uint16(0xFFFF-10000)),
		Entry(nil, "124.OutWRte", uint16(0x8000)), Entry(nil, "124.StorCtl_Mod", uint16(4)),
		Entry(nil, "123.WMaxLimPct", uint16(10001)), Entry(nil, "123.Conn", uint16(2)),
		Entry(nil, "124.MinRsvPct", uint16(10001)), Entry(nil, "124.InOutWRte_RmpTms", uint16(5)))

	It("accept the very ends of the range", func() {
		write(im, at(im, "124.StorCtl_Mod"), 3)
		commands := write(im, at(im, "124.OutWRte"), value(-100), value(100))
		Expect(commands).To(HaveLen(2))
		Expect(commands[0].Value).To(Equal(-5000.0))
		Expect(commands[1].Value).To(Equal(4000.0))
	})

	It("are all or nothing", func() {
		before := words(im, 40000, 125)
		rest := words(im, 40125, 125)
		for _, bad := range []struct {
			address uint16
			values  []uint16
			want    error
		}{
			{at(im, "124.OutWRte"), []uint16{value(50), 20000}, registers.ErrIllegalValue},
			{at(im, "124.MinRsvPct"), []uint16{value(50), 1}, registers.ErrReadOnly},
			{at(im, "124.ChaState"), []uint16{1}, registers.ErrReadOnly},
			{at(im, "end.L"), []uint16{0, 0}, registers.ErrIllegalAddress},
			{40282, []uint16{0}, registers.ErrIllegalAddress},
			{39999, []uint16{0}, registers.ErrIllegalAddress},
			{65535, []uint16{0, 0}, registers.ErrIllegalAddress},
		} {
			Expect(im.Write(bad.address, bad.values, func(registers.Command) { Fail("emitted") })).To(MatchError(bad.want))
		}
		Expect(words(im, 40000, 125)).To(Equal(before))
		Expect(words(im, 40125, 125)).To(Equal(rest))
	})

	It("are illegal addresses too where they hit a read-only register", func() {
		Expect(im.Write(at(im, "103.W"), []uint16{1}, nil)).To(MatchError(registers.ErrIllegalAddress))
	})

	It("stay readable over snapshots until they are released", func() {
		write(im, at(im, "124.InWRte"), value(20))
		write(im, at(im, "124.StorCtl_Mod"), 3)
		im.Refresh(snapshot(registers.ChargeLimit, 4000))
		Expect(word(im, at(im, "124.InWRte"))).To(Equal(value(20)))
		im.Release(registers.ChargeLimit)
		Expect(word(im, at(im, "124.InWRte"))).To(Equal(value(100)))
		Expect(word(im, at(im, "124.StorCtl_Mod"))).To(Equal(uint16(2)), "only the charge bit goes")
		im.Reset()
		Expect(word(im, at(im, "124.StorCtl_Mod"))).To(Equal(uint16(0)))
		Expect(word(im, at(im, "124.ChaGriSet"))).To(Equal(uint16(1)))
	})
})

var _ = Describe("A SunSpec inverter without the rating of its battery", func() {
	It("has no limits in percent of it", func() {
		im := registers.NewImage(registers.SunSpecInverter(3), registers.Options{Ratings: registers.Ratings{PowerW: 5000}})
		Expect(word(im, at(im, "124.InWRte"))).To(Equal(uint16(0x8000)))
		Expect(word(im, at(im, "124.InOutWRte_SF"))).To(Equal(uint16(0x8000)))
		Expect(im.Write(at(im, "124.InWRte"), []uint16{0}, nil)).To(MatchError(registers.ErrReadOnly))
	})
})

package emulator_test

import (
	"encoding/binary"
	"math"

	goburrow "github.com/goburrow/modbus"
	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator"
	"kilter/physics"
)

var _ = Describe("a SunSpec control with a reversion time", func() {
	var b *emulator.Bench
	var c *client
	var l goburrow.Client
	var f emulator.FileDevice
	var chain *read
	serve := func(layout string) {
		GinkgoHelper()
		b = open(on("bakery", layout, false), emulator.Options{Pace: emulator.Stepped})
		play(b, nil)
		c = connect(b)
		Expect(c.wait(1000)).To(BeTrue())
		f = called(b, "north")
		l = c.link(f.Address, f.Unit)
		chain = readChain(f.Address, f.Unit, uint16(f.Base))
	}
	// at is where a model starts.
	at := func(model uint16) uint16 {
		GinkgoHelper()
		for i, m := range chain.models {
			if m == model {
				return uint16(chain.starts[i])
			}
		}
		Fail("no such model")
		return 0
	}
	write := func(address uint16, words ...uint16) {
		GinkgoHelper()
		var bytes []byte
		for _, w := range words {
			bytes = binary.BigEndian.AppendUint16(bytes, w)
		}
		_, err := l.WriteMultipleRegisters(address, uint16(len(words)), bytes)
		Expect(err).NotTo(HaveOccurred())
	}
	says := func(point string) float64 {
		GinkgoHelper()
		v, has := decode(f.Address, f.Unit, uint16(f.Base))[point]
		Expect(has).To(BeTrue(), point)
		return v
	}
	north := func() *physics.Inverter { return &b.Plant().Inverters[0] }

	It("limits the output by model 123 until the time is over", func() {
		serve("sunspec")
		// SS-35: WMaxLimPct 5, WinTms 6, RvrtTms 7, RmpTms 8, WMaxLim_Ena 9.
		write(at(123)+5, 3000, 0, 20, 0, 1) // 30 % at SF -2
		Expect(c.wait(19_000)).To(BeTrue())
		Expect(north().OutputLimit()).To(BeNumerically("~", 0.3, 1e-12))
		Expect(math.Abs(north().PowerW)).To(BeNumerically("<=", 0.3*5000+1))
		Expect(says("122.StActCtl")).To(Equal(1.0))
		Expect(c.wait(2_000)).To(BeTrue())
		Expect(north().OutputLimit()).To(Equal(1.0))
		Expect(says("123.WMaxLimPct")).To(Equal(100.0))
		Expect(says("123.WMaxLim_Ena")).To(Equal(0.0))
		Expect(says("123.WMaxLimPct_RvrtTms")).To(Equal(20.0))
	})

	It("is renewed by each write", func() {
		serve("sunspec")
		write(at(123)+5, 3000, 0, 20, 0, 1)
		for range 4 {
			Expect(c.wait(15_000)).To(BeTrue())
			write(at(123)+5, 3000)
		}
		Expect(north().OutputLimit()).To(BeNumerically("~", 0.3, 1e-12))
	})

	It("disconnects by model 123 and connects again", func() {
		serve("sunspec")
		write(at(123)+3, 10, 0) // Conn_RvrtTms 3, Conn 4
		Expect(c.wait(5_000)).To(BeTrue())
		Expect(north().Connected()).To(BeFalse())
		Expect(north().PowerW).To(BeZero())
		Expect(says("122.ECPConn")).To(Equal(0.0))
		Expect(says("103.St")).To(Equal(8.0)) // STANDBY
		Expect(c.wait(6_000)).To(BeTrue())
		Expect(north().Connected()).To(BeTrue())
		Expect(says("123.Conn")).To(Equal(1.0))
	})

	It("holds the storage rates of model 124 until the time is over, and the reserve for good", func() {
		serve("sunspec")
		// SS-36: OutWRte 12, InWRte 13, InOutWRte_RvrtTms 15, StorCtl_Mod 5, MinRsvPct 7; rates at SF -2.
		write(at(124)+12, uint16(0x10000-5000), 2500, 0, 30) // OutWRte -50 % forces charging
		write(at(124)+5, 3)
		write(at(124)+7, 2000)
		Expect(c.wait(25_000)).To(BeTrue())
		Expect(north().DischargeLimitW()).To(BeNumerically("~", -2500, 1e-6))
		Expect(north().ChargeLimitW()).To(BeNumerically("~", 1250, 1e-6))
		Expect(says("124.MinRsvPct")).To(Equal(20.0))
		Expect(c.wait(6_000)).To(BeTrue())
		Expect(north().DischargeLimitW()).To(Equal(5000.0))
		Expect(north().ChargeLimitW()).To(Equal(5000.0))
		Expect(says("124.StorCtl_Mod")).To(Equal(0.0))
		Expect(north().ReserveSOC()).To(BeNumerically("~", 0.2, 1e-12))
	})

	It("follows a set point of model 704 and returns to its native loop", func() {
		serve("sunspec-der")
		// SS-38: WSetEna 22, WSetMod 23, WSet 24, WSetRvrtTms 31, WSetRvrtRem 33; SS-53: negative for charging.
		write(at(704)+31, 0, 40)
		write(at(704)+22, 1, 1, 0xFFFF, 0xFA24) // -1500 W
		Expect(c.wait(30_000)).To(BeTrue())
		Expect(north().Mode).To(Equal(physics.FollowSetpoint))
		Expect(north().PowerW).To(BeNumerically("~", 1500, 5))
		Expect(says("701.W")).To(BeNumerically("~", -1500, 5))
		Expect(says("704.WSetRvrtRem")).To(BeNumerically("~", 10, 1))
		write(at(704)+24, 0, 900) // a new set point renews the enabling too
		Expect(c.wait(30_000)).To(BeTrue())
		Expect(north().PowerW).To(BeNumerically("~", -900, 5))
		Expect(c.wait(11_000)).To(BeTrue())
		Expect(north().Mode).To(Equal(physics.SelfConsumption))
		Expect(says("704.WSetEna")).To(Equal(0.0))
		Expect(says("704.WSetRvrtRem")).To(Equal(0.0))
	})

	It("falls back to the reversion set point of model 704 where that is enabled", func() {
		serve("sunspec-der")
		write(at(704)+26, 0, 300) // WSetRvrt
		write(at(704)+30, 1)      // WSetEnaRvrt
		write(at(704)+31, 0, 20)
		write(at(704)+22, 1, 1, 0, 2000)
		Expect(c.wait(15_000)).To(BeTrue())
		Expect(north().PowerW).To(BeNumerically("~", -2000, 5))
		Expect(c.wait(15_000)).To(BeTrue())
		Expect(north().Mode).To(Equal(physics.FollowSetpoint))
		Expect(north().PowerW).To(BeNumerically("~", -300, 5))
		Expect(says("704.WSet")).To(Equal(300.0))
		Expect(says("704.WSetEna")).To(Equal(1.0))
		Expect(c.wait(60_000)).To(BeTrue())
		Expect(north().PowerW).To(BeNumerically("~", -300, 5), "until further notice")
	})

	It("follows a set point in percent, and service is forbidden and permitted", func() {
		serve("sunspec-der")
		write(at(704)+28, uint16(0x10000-4000)) // WSetPct -40 % at SF -2
		write(at(704)+22, 1, 0)
		Expect(c.wait(20_000)).To(BeTrue())
		Expect(north().PowerW).To(BeNumerically("~", 2000, 5))
		write(at(703)+2, 0)
		Expect(c.wait(1_000)).To(BeTrue())
		Expect(north().PowerW).To(BeZero())
		Expect(says("701.ConnSt")).To(Equal(0.0))
		write(at(703)+2, 1)
		Expect(c.wait(100_000)).To(BeTrue())
		Expect(north().PowerW).To(BeNumerically("~", 2000, 5))
	})

	It("limits the output by model 704 with a fall-back", func() {
		serve("sunspec-der")
		write(at(704)+16, 6000, 1) // WMaxLimPctRvrt 60 %, WMaxLimPctEnaRvrt
		write(at(704)+18, 0, 20)   // WMaxLimPctRvrtTms
		write(at(704)+14, 1, 2000) // WMaxLimPctEna, WMaxLimPct 20 %
		Expect(c.wait(15_000)).To(BeTrue())
		Expect(north().OutputLimit()).To(BeNumerically("~", 0.2, 1e-12))
		Expect(says("704.WMaxLimPctRvrtRem")).To(BeNumerically("~", 5, 1))
		Expect(c.wait(10_000)).To(BeTrue())
		Expect(north().OutputLimit()).To(BeNumerically("~", 0.6, 1e-12))
	})
})

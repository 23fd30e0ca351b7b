package emulator_test

import (
	"fmt"
	"math"
	"os/exec"
	"strings"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator"
)

var _ = Describe("a SunSpec chain read by an independent client", func() {
	It("says of an inverter what the plant says, with sign and scale right", func() {
		b := open(story("calm-start"), emulator.Options{Pace: emulator.Stepped})
		play(b, nil)
		c := connect(b)
		moved := 0.0
		for range 20 {
			Expect(c.wait(10_000)).To(BeTrue())
			d := called(b, "north")
			got := decode(d.Address, d.Unit, uint16(d.Base))
			v := &b.Plant().Inverters[0]
			moved = math.Max(moved, math.Abs(v.PowerW))
			Expect(got["103.W"]).To(BeNumerically("~", -v.PowerW, 1), "generating is positive on the wire, and negative inside")
			Expect(got["103.Hz"]).To(BeNumerically("~", 50, 0.01))
			Expect(got["103.PhVphA"]).To(BeNumerically("~", b.Plant().VoltageV(1), 0.1))
			Expect(got["120.WRtg"]).To(BeNumerically("~", 5000, 1))
			Expect(got["124.ChaState"]).To(BeNumerically("~", 100*v.Battery.SOC, 0.1))
			Expect(got["124.WChaMax"]).To(BeNumerically("~", 5000, 1))
			Expect(got).To(HaveKey("123.WMaxLimPct"))
			Expect(got["713.SoC"]).To(BeNumerically("~", 100*v.Battery.SOC, 0.1))
		}
		Expect(moved).To(BeNumerically(">", 500), "else sign and scale were not tested")
	})

	It("says of a meter what the meter reads, import positive", func() {
		b := open(story("calm-start"), emulator.Options{Pace: emulator.Stepped})
		play(b, nil)
		c := connect(b)
		moved := 0.0
		for n := range 30 {
			Expect(c.wait(11_000)).To(BeTrue())
			d := called(b, "grid_meter")
			got := decode(d.Address, d.Unit, uint16(d.Base))
			m := &b.Plant().Meters[0]
			moved = math.Max(moved, math.Abs(m.ReadingW))
			Expect(got["203.W"]).To(BeNumerically("~", m.ReadingW, 5.01), "poll %d", n)
			Expect(got["203.TotWhImp"]).To(BeNumerically("~", m.ImportedWh(), 1))
		}
		Expect(moved).To(BeNumerically(">", 20))
	})

	It("takes the storage limits of model 124, and shows them at once", func() {
		b := open(story("calm-start"), emulator.Options{Pace: emulator.Stepped})
		play(b, nil)
		c := connect(b)
		Expect(c.wait(1000)).To(BeTrue())
		d := called(b, "north")
		// SS-28 and SS-36: 124 stands at 40254 from base 40000; StorCtl_Mod is its point 5, OutWRte 12, InWRte 13.
		const model124 = 40254
		l := c.link(d.Address, d.Unit)
		head, err := l.ReadHoldingRegisters(model124, 1)
		Expect(err).NotTo(HaveOccurred())
		Expect(head).To(Equal([]byte{0, 124}))
		before := decode(d.Address, d.Unit, uint16(d.Base))
		scale := math.Pow(10, before["124.InOutWRte_SF"])
		quarter := uint16(math.Round(25 / scale))
		_, err = l.WriteSingleRegister(model124+13, quarter)
		Expect(err).NotTo(HaveOccurred())
		_, err = l.WriteSingleRegister(model124+5, 1)
		Expect(err).NotTo(HaveOccurred())
		after := decode(d.Address, d.Unit, uint16(d.Base))
		Expect(after["124.InWRte"]).To(BeNumerically("~", 25, 0.01))
		Expect(after["124.StorCtl_Mod"]).To(Equal(1.0))
		Expect(b.Plant().Inverters[0].ChargeLimitW()).To(Equal(5000.0), "the plant acts at the next tick")
		Expect(c.wait(100)).To(BeTrue())
		Expect(b.Plant().Inverters[0].ChargeLimitW()).To(BeNumerically("~", 1250, 0.1))
	})

	It("is read by mbpoll as it is read by us", func() {
		program, err := exec.LookPath("mbpoll")
		if err != nil {
			Skip("mbpoll is missing: Debian's package mbpoll brings it")
		}
		b := open(story("calm-start"), emulator.Options{Pace: emulator.Stepped})
		play(b, nil)
		Expect(connect(b).wait(30_000)).To(BeTrue())
		d := called(b, "north")
		host, port, _ := strings.Cut(d.Address, ":")
		// -0: addresses from 0; -t 4: holding registers. 103.W stands at 40070 + 14.
		out, err := exec.Command(program, "-0", "-1", "-q", "-m", "tcp", "-p", port, "-a", fmt.Sprint(d.Unit),
			"-t", "4", "-r", "40000", "-c", "2", host).CombinedOutput()
		Expect(err).NotTo(HaveOccurred(), "%s", out)
		Expect(string(out)).To(ContainSubstring("[40000]: \t21365"))
		Expect(string(out)).To(ContainSubstring("[40001]: \t28243"))
		out, err = exec.Command(program, "-0", "-1", "-q", "-m", "tcp", "-p", port, "-a", fmt.Sprint(d.Unit),
			"-t", "4", "-r", "40084", "-c", "1", host).CombinedOutput()
		Expect(err).NotTo(HaveOccurred(), "%s", out)
		raw := decode(d.Address, d.Unit, uint16(d.Base))
		Expect(strings.Fields(string(out))).To(ContainElement(fmt.Sprint(uint16(int16(math.Round(raw["103.W"] / math.Pow(10, raw["103.W_SF"])))))))
	})
})

package emulator_test

import (
	"encoding/binary"
	"math"
	"time"

	goburrow "github.com/goburrow/modbus"
	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator"
	"kilter/emulator/modbus"
	"kilter/scenarios"
)

var _ = Describe("the account of what was written", func() {
	var (
		b      *emulator.Bench
		c      *client
		ended  <-chan error
		writes []emulator.Write
	)
	begin := func(change ...func(*scenarios.Scenario)) {
		GinkgoHelper()
		writes = nil
		sc := story("calm-start")
		for _, f := range change {
			f(sc)
		}
		b = open(sc, emulator.Options{Pace: emulator.Stepped, Observe: []func(*emulator.Tick){
			func(t *emulator.Tick) { writes = append(writes, t.Writes...) },
		}})
		ended = play(b, nil)
		c = connect(b)
		Expect(c.wait(1000)).To(BeTrue())
	}
	north := func() goburrow.Client {
		GinkgoHelper()
		d := called(b, "north")
		return c.link(d.Address, d.Unit)
	}

	// model walks a SunSpec chain to a model, and returns the register of its ID.
	model := func(link goburrow.Client, id uint16) uint16 {
		GinkgoHelper()
		for at := uint16(40002); ; {
			head, err := link.ReadHoldingRegisters(at, 2)
			Expect(err).NotTo(HaveOccurred())
			switch found := binary.BigEndian.Uint16(head); found {
			case id:
				return at
			case 0xFFFF:
				Fail("the chain has no such model")
			}
			at += 2 + binary.BigEndian.Uint16(head[2:])
		}
	}

	It("tells a write that was taken from one that was refused, and why", func() {
		begin()
		Expect(c.write("south", "charge_limit", 1234)).To(Succeed())
		Expect(c.write("south", "charge_limit", 60_000)).NotTo(Succeed())
		Expect(c.wait(100)).To(BeTrue())
		Expect(writes).To(Equal([]emulator.Write{
			{Tick: 10, Device: "south", Place: 3, Function: 16, Register: 515, Values: []uint16{1234}},
			{Tick: 10, Device: "south", Place: 3, Function: 16, Register: 515, Values: []uint16{60_000}, Outcome: emulator.Refused,
				Detail: "illegal data value: south: holding 515, charge_limit: 60000: illegal value"},
		}))
		Expect(b.Traffic()).To(And(HaveField("Writes", 2), HaveField("Exceptions", 1), HaveField("Waits", 2)))
	})

	It("sums up what was asked of each device: retries, and the smallest gap", func() {
		begin()
		Expect(c.write("south", "charge_limit", 60_000)).NotTo(Succeed())
		Expect(c.wait(700)).To(BeTrue())
		Expect(c.write("south", "charge_limit", 60_000)).NotTo(Succeed())
		Expect(c.wait(300)).To(BeTrue())
		Expect(c.write("south", "charge_limit", 1234)).To(Succeed())
		Expect(c.read("south", "charge_limit")).To(Equal(1234.0))
		Expect(b.Traffic().Devices).To(Equal([]emulator.DeviceTraffic{{
			Device: "south", Requests: 4, Reads: 1, Writes: 3, Exceptions: 2, Retries: 1, SmallestGap: 0,
		}}))
		Expect(c.wait(0)).To(BeTrue())
	})

	It("tells the first read that a device refused, and how many they were", func() {
		begin()
		link := c.link(called(b, "south").Address, called(b, "south").Unit)
		Expect(c.wait(300)).To(BeTrue())
		Expect(link.ReadInputRegisters(9999, 1)).Error().To(HaveOccurred())
		Expect(link.ReadHoldingRegisters(9998, 2)).Error().To(HaveOccurred())
		Expect(c.write("south", "charge_limit", 60_000)).NotTo(Succeed())
		Expect(b.Traffic().Devices).To(ConsistOf(And(
			HaveField("RefusedReads", 2),
			HaveField("RefusedRead", emulator.RefusedRead{At: 1300 * time.Millisecond, Function: 4, Register: 9999, Exception: modbus.IllegalDataAddress}),
		)))
		Expect(c.wait(0)).To(BeTrue())
	})

	It("tells a limit that is stored while its enable bit is not set, and one that is in force", func() {
		begin()
		block := model(north(), 124) // with StorCtl_Mod at 5 and InWRte at 13
		Expect(north().WriteSingleRegister(block+13, 5000)).Error().NotTo(HaveOccurred())
		Expect(north().WriteSingleRegister(block+5, 1)).Error().NotTo(HaveOccurred())
		Expect(north().WriteSingleRegister(block+13, 4000)).Error().NotTo(HaveOccurred())
		Expect(c.wait(100)).To(BeTrue())
		Expect(writes).To(HaveLen(3))
		Expect(writes[0].Outcome).To(Equal(emulator.NotInForce))
		Expect(writes[0].Detail).To(Equal("124.InWRte needs 124.StorCtl_Mod"))
		Expect(writes[1].Outcome).To(Equal(emulator.Taken))
		Expect(writes[2].Outcome).To(Equal(emulator.Taken))
	})

	It("tells a command that the bench's device of this kind does not obey", func() {
		begin()
		d := called(b, "panels")
		link := c.link(d.Address, d.Unit)
		block := model(link, 123) // with WMaxLimPct at 5 and WMaxLim_Ena at 9
		Expect(link.WriteMultipleRegisters(block+5, 5, []byte{0x17, 0x70, 0, 0, 0, 0, 0, 0, 0, 1})).Error().NotTo(HaveOccurred())
		Expect(c.wait(100)).To(BeTrue())
		Expect(writes).To(HaveLen(1))
		Expect(writes[0].Outcome).To(Equal(emulator.NotInForce))
		Expect(writes[0].Detail).To(Equal("the bench's arrays do not obey output_limit"))
	})

	It("tells a request that the server itself refuses", func() {
		begin()
		d := called(b, "south")
		_, err := c.link(d.Address, d.Unit).WriteSingleCoil(7, 0xFF00)
		Expect(err).To(HaveOccurred())
		Expect(c.wait(100)).To(BeTrue())
		Expect(writes).To(HaveLen(1))
		Expect(writes[0]).To(And(HaveField("Function", byte(5)), HaveField("Values", []uint16{1}),
			HaveField("Outcome", emulator.Refused), HaveField("Detail", HavePrefix("illegal data address"))))
	})

	It("tells a write that a silent device never answered, at the time when it was asked", func() {
		begin(func(sc *scenarios.Scenario) {
			sc.Events = append(sc.Events, scenarios.Event{
				Device: "south", Link: &scenarios.LinkFault{Kind: scenarios.Silent, Lasts: 5 * time.Second},
			})
		})
		Expect(c.write("south", "charge_limit", 1234)).NotTo(Succeed())
		Expect(c.wait(100)).To(BeTrue())
		Expect(writes).To(HaveLen(1))
		Expect(writes[0]).To(And(HaveField("Tick", int64(10)), HaveField("Outcome", emulator.Unanswered)))
	})

	It("keeps what was written after the last tick", func() {
		begin()
		Expect(c.write("south", "charge_limit", 1)).To(Succeed())
		Expect(writes).To(BeEmpty())
		Expect(b.Unseen()).To(HaveLen(1))
		Expect(b.Unseen()).To(BeEmpty())
	})

	It("is closed with the end of the run", func() {
		begin()
		Expect(c.wait(uint32(story("calm-start").Lasts.Milliseconds()))).To(BeFalse())
		Eventually(ended, soon).Should(Receive(BeNil()))
		Expect(b.Traffic().Writes).To(BeZero())
		Expect(b.Traffic().LongestWaitMS).To(Equal(story("calm-start").Lasts.Milliseconds()))
	})
})

var _ = Describe("a wait with its two words swapped", func() {
	It("is refused with exception 03, and told, rather than let the whole run pass", func() {
		b := open(story("calm-start"), emulator.Options{Pace: emulator.Stepped, StallTimeout: time.Second})
		ended := play(b, nil)
		c := connect(b)
		Expect(c.wait(10_000)).To(BeTrue())
		clock := b.File().Clock
		swapped := binary.BigEndian.AppendUint32(nil, 10_000<<16)
		_, err := c.link(clock.Address, clock.Unit).WriteMultipleRegisters(0, 2, swapped)
		Expect(err).To(MatchError(ContainSubstring("exception '3'")))
		Expect(b.Plant().TimeMS()).To(Equal(int64(10_000)))
		Eventually(ended, soon).Should(Receive(MatchError("the controller stopped waiting at 10s of simulated time; " +
			"at 10s the controller asked to wait 655360 s, far beyond the scenario's end, and was refused; " +
			"are the two words of wait_ms swapped? The high word comes first (the other way round it is 10 s)")))
		Expect(b.Traffic()).To(And(HaveField("Waits", 1), HaveField("RefusedWaits", 1), HaveField("LongestWaitMS", int64(10_000))))
	})

	It("is not suspected where a wait reaches a little beyond the end, nor on an endless bench", func() {
		b := open(story("calm-start"), emulator.Options{Pace: emulator.Stepped})
		play(b, nil)
		Expect(connect(b).wait(uint32(story("calm-start").Lasts.Milliseconds()) + 3_600_000)).To(BeFalse())
		Expect(b.Traffic().RefusedWaits).To(BeZero())

		b = open(story("calm-start"), emulator.Options{Pace: emulator.Real, Endless: true})
		play(b, nil)
		c := connect(b)
		Expect(c.wait(0)).To(BeTrue())
		waited := make(chan bool, 1)
		go func() { waited <- c.wait(math.MaxUint32) }()
		Eventually(func() int { return b.Traffic().Waits }, soon).Should(Equal(2))
		Expect(b.Close()).To(Succeed())
		Eventually(waited, soon).Should(Receive(BeFalse()))
	})
})

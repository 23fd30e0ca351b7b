package emulator_test

import (
	"slices"
	"time"

	goburrow "github.com/goburrow/modbus"
	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"github.com/onsi/gomega/types"

	"kilter/emulator"
	"kilter/emulator/modbus"
	"kilter/scenarios"
)

// sick begins calm-start in stepped pace with a fault of south's link from 10 s to 20 s, and moves to 11 s.
func sick(fault scenarios.LinkFault) (*emulator.Bench, *client) {
	GinkgoHelper()
	sc := story("calm-start")
	fault.Lasts = 10 * time.Second
	sc.Events = append(sc.Events, scenarios.Event{At: 10 * time.Second, Device: "south", Link: &fault})
	b := open(sc, emulator.Options{Pace: emulator.Stepped})
	play(b, nil)
	c := connect(b)
	Expect(c.wait(11_000)).To(BeTrue())
	return b, c
}

// mannered begins calm-start with manners of south's interface.
func mannered(change func(*scenarios.Wire), observe ...func(*emulator.Tick)) (*emulator.Bench, *client) {
	GinkgoHelper()
	sc := story("calm-start")
	site := *sc.Site
	site.Devices = slices.Clone(site.Devices)
	for i, d := range site.Devices {
		if d.Name == "south" {
			wire := *d.Wire
			change(&wire)
			site.Devices[i].Wire = &wire
		}
	}
	sc.Site = &site
	b := open(sc, emulator.Options{Pace: emulator.Stepped, Observe: observe})
	play(b, nil)
	return b, connect(b)
}

// south is a fresh connection to south.
func south(b *emulator.Bench, c *client) goburrow.Client {
	GinkgoHelper()
	d := called(b, "south")
	delete(c.links, d.Address)
	return c.link(d.Address, d.Unit)
}

// now is simulated time [ms]. A wait of nothing orders it behind what the bench does when a connection closes.
func now(b *emulator.Bench, c *client) int64 {
	GinkgoHelper()
	Expect(c.wait(0)).To(BeTrue())
	return b.Plant().TimeMS()
}

var _ = Describe("a link that the scenario makes sick, in stepped pace", func() {
	DescribeTable("shows the client its fault, costs simulated time, and is well afterwards",
		func(fault scenarios.LinkFault, seen types.GomegaMatcher, costMS types.GomegaMatcher) {
			b, c := sick(fault)
			for range 3 {
				before := now(b, c)
				_, err := south(b, c).ReadInputRegisters(0x0100, 10)
				Expect(err).To(seen)
				Expect(now(b, c) - before).To(costMS)
			}
			Expect(c.wait(10_000)).To(BeTrue())
			before := now(b, c)
			link := south(b, c)
			Expect(link.ReadInputRegisters(0x0100, 10)).To(HaveLen(20))
			Expect(now(b, c)).To(Equal(before))
			Expect(c.read("south", "ac_power")).To(BeNumerically("~", b.Plant().Inverters[1].PowerW, 0.51))
		},
		Entry("silent", scenarios.LinkFault{Kind: scenarios.Silent}, HaveOccurred(), BeEquivalentTo(1000)),
		Entry("slow", scenarios.LinkFault{Kind: scenarios.Slow, Delay: 800 * time.Millisecond}, Not(HaveOccurred()), BeEquivalentTo(800)),
		Entry("slow by part of a step", scenarios.LinkFault{Kind: scenarios.Slow, Delay: 30 * time.Millisecond}, Not(HaveOccurred()), BeEquivalentTo(100)),
		Entry("slower than the reply timeout", scenarios.LinkFault{Kind: scenarios.Slow, Delay: 2 * time.Second}, HaveOccurred(), BeEquivalentTo(1000)),
		Entry("jittery", scenarios.LinkFault{Kind: scenarios.Jittery, Delay: 800 * time.Millisecond}, Not(HaveOccurred()),
			And(BeNumerically(">=", 0), BeNumerically("<=", 800))),
		Entry("refuses", scenarios.LinkFault{Kind: scenarios.Refuses}, HaveOccurred(), BeZero()),
		Entry("resets", scenarios.LinkFault{Kind: scenarios.Resets}, MatchError(ContainSubstring("reset")), BeZero()),
		Entry("busy", scenarios.LinkFault{Kind: scenarios.Busy}, MatchError(ContainSubstring("exception '6'")), BeZero()),
		Entry("garbage", scenarios.LinkFault{Kind: scenarios.Garbage}, HaveOccurred(), BeEquivalentTo(1000)),
		Entry("wrong transaction", scenarios.LinkFault{Kind: scenarios.WrongTransaction}, MatchError(ContainSubstring("transaction id")), BeEquivalentTo(1000)),
		Entry("wrong unit", scenarios.LinkFault{Kind: scenarios.WrongUnit}, MatchError(ContainSubstring("unit id")), BeEquivalentTo(1000)),
		Entry("wrong count", scenarios.LinkFault{Kind: scenarios.WrongCount}, HaveOccurred(), BeEquivalentTo(1000)),
		Entry("half a reply", scenarios.LinkFault{Kind: scenarios.HalfReply}, HaveOccurred(), BeEquivalentTo(1000)),
		// 29 bytes: 28 pauses.
		Entry("dripping", scenarios.LinkFault{Kind: scenarios.Dripping, Delay: 20 * time.Millisecond}, Not(HaveOccurred()), BeEquivalentTo(600)),
		Entry("dripping for longer than the reply timeout", scenarios.LinkFault{Kind: scenarios.Dripping, Delay: 150 * time.Millisecond}, HaveOccurred(), BeEquivalentTo(1000)),
		Entry("hangs up", scenarios.LinkFault{Kind: scenarios.HangsUp}, HaveOccurred(), BeZero()),
	)

	It("delays by draws that come from the seed alone", func() {
		delays := func() (list []int64) {
			b, c := sick(scenarios.LinkFault{Kind: scenarios.Jittery, Delay: 900 * time.Millisecond})
			link := south(b, c)
			for range 8 {
				before := now(b, c)
				Expect(link.ReadInputRegisters(0x0100, 1)).Error().NotTo(HaveOccurred())
				list = append(list, now(b, c)-before)
			}
			return list
		}
		first := delays()
		Expect(slices.Max(first)).To(BeNumerically(">", slices.Min(first)))
		Expect(delays()).To(Equal(first))
	})

	It("keeps stale registers at the snapshot of when the fault began, however seldom it was read", func() {
		sc := story("calm-start")
		sc.Events = append(sc.Events, scenarios.Event{At: 100 * time.Second, Device: "south",
			Link: &scenarios.LinkFault{Kind: scenarios.Stale, Lasts: 300 * time.Second}})
		powers := map[int64]float64{}
		b := open(sc, emulator.Options{Pace: emulator.Stepped, Observe: []func(*emulator.Tick){func(t *emulator.Tick) {
			powers[t.Plant.TimeMS()] = t.Plant.Inverters[1].PowerW
		}}})
		play(b, nil)
		c := connect(b)
		Expect(c.wait(20_000)).To(BeTrue())
		c.read("south", "ac_power")
		for range 3 {
			Expect(c.wait(90_000)).To(BeTrue())
			Expect(c.read("south", "ac_power")).To(BeNumerically("~", powers[100_000], 0.51))
		}
		Expect(c.write("south", "charge_limit", 1234)).To(Succeed())
		Expect(c.read("south", "charge_limit")).To(Equal(1234.0), "what was written reads back")
		Expect(c.wait(210_000)).To(BeTrue())
		Expect(c.read("south", "ac_power")).To(BeNumerically("~", powers[500_000], 0.51))
		Expect(powers[500_000]).NotTo(BeNumerically("~", powers[100_000], 2), "else nothing was told")
	})

	It("takes writes while it is frozen, and does nothing with them", func() {
		b, c := sick(scenarios.LinkFault{Kind: scenarios.Frozen})
		power := c.read("south", "ac_power")
		Expect(c.write("south", "charge_limit", 1234)).To(Succeed())
		Expect(c.wait(5_000)).To(BeTrue())
		Expect(c.read("south", "charge_limit")).NotTo(Equal(1234.0))
		Expect(c.read("south", "ac_power")).To(Equal(power))
		Expect(b.Plant().Inverters[1].ChargeLimitW()).To(Equal(3600.0))
		Expect(c.wait(5_000)).To(BeTrue())
		Expect(c.write("south", "charge_limit", 1234)).To(Succeed())
		Expect(c.wait(100)).To(BeTrue())
		Expect(b.Plant().Inverters[1].ChargeLimitW()).To(Equal(1234.0))
	})

	It("carries out a write whose reply it spoils", func() {
		b, c := sick(scenarios.LinkFault{Kind: scenarios.HalfReply})
		Expect(c.write("south", "charge_limit", 1234)).NotTo(Succeed())
		Expect(c.wait(100)).To(BeTrue())
		Expect(b.Plant().Inverters[1].ChargeLimitW()).To(Equal(1234.0))
	})

	It("lets no write through that it does not answer", func() {
		b, c := sick(scenarios.LinkFault{Kind: scenarios.Garbage})
		Expect(c.write("south", "charge_limit", 1234)).NotTo(Succeed())
		Expect(b.Unseen()).To(HaveExactElements(And(HaveField("Outcome", emulator.Unanswered), HaveField("Detail", "garbage came in place of a reply"))))
		Expect(c.wait(10_000)).To(BeTrue())
		Expect(b.Plant().Inverters[1].ChargeLimitW()).To(Equal(3600.0))
	})

	It("tells a write that a busy link refused", func() {
		b, c := sick(scenarios.LinkFault{Kind: scenarios.Busy})
		Expect(c.write("south", "charge_limit", 1234)).NotTo(Succeed())
		Expect(b.Unseen()).To(HaveExactElements(And(HaveField("Outcome", emulator.Refused), HaveField("Detail", "server device busy: the link is busy"))))
	})
})

var _ = Describe("a fault on the level of bytes, set from Go", func() {
	It("costs simulated time by its delay, and is over when it is taken away", func() {
		b := open(story("calm-start"), emulator.Options{Pace: emulator.Stepped})
		play(b, nil)
		c := connect(b)
		link := south(b, c)
		Expect(b.SetFault("south", modbus.Fault{Delay: 500 * time.Millisecond})).To(Succeed())
		Expect(link.ReadInputRegisters(0x0100, 10)).To(HaveLen(20))
		Expect(b.Plant().TimeMS()).To(BeEquivalentTo(500))
		Expect(b.SetFault("south", modbus.Fault{Spoil: modbus.WrongTransaction})).To(Succeed())
		Expect(link.ReadInputRegisters(0x0100, 10)).Error().To(MatchError(ContainSubstring("transaction id")))
		Expect(b.SetFault("south", modbus.Fault{})).To(Succeed())
		Expect(south(b, c).ReadInputRegisters(0x0100, 10)).To(HaveLen(20))
		Expect(b.Plant().TimeMS()).To(BeEquivalentTo(500))
		Expect(b.SetFault("suoth", modbus.Fault{})).To(MatchError(`no device called "suoth" on the wire`))
	})
})

var _ = Describe("the manners of a device's interface, in stepped pace", func() {
	It("refresh: registers show a snapshot that the device takes in its own rhythm", func() {
		powers := map[int64]float64{}
		b, c := mannered(func(w *scenarios.Wire) { w.Refresh = 3 * time.Second }, func(t *emulator.Tick) {
			powers[t.Plant.TimeMS()] = t.Plant.Inverters[1].PowerW
		})
		for range 40 {
			Expect(c.wait(5_000)).To(BeTrue())
			taken := b.Plant().TimeMS() / 3000 * 3000
			Expect(c.read("south", "ac_power")).To(BeNumerically("~", powers[taken], 0.51))
		}
	})

	It("clients: one more than it serves is turned away, until another has left", func() {
		b, c := mannered(func(w *scenarios.Wire) { w.Clients = 1 })
		d := called(b, "south")
		first := goburrow.NewTCPClientHandler(d.Address)
		first.SlaveId, first.Timeout = d.Unit, soon
		Expect(first.Connect()).To(Succeed())
		DeferCleanup(first.Close)
		Expect(goburrow.NewClient(first).ReadInputRegisters(0x0100, 1)).Error().NotTo(HaveOccurred())

		Expect(south(b, c).ReadInputRegisters(0x0100, 1)).Error().To(HaveOccurred())
		Expect(goburrow.NewClient(first).ReadInputRegisters(0x0100, 1)).Error().NotTo(HaveOccurred(), "it goes on to be served")
		for range 20 {
			Expect(first.Close()).To(Succeed())
			Expect(first.Connect()).To(Succeed())
			Expect(goburrow.NewClient(first).ReadInputRegisters(0x0100, 1)).Error().NotTo(HaveOccurred(), "who comes back at once finds its place")
		}
		Expect(first.Close()).To(Succeed())
		Expect(south(b, c).ReadInputRegisters(0x0100, 1)).Error().NotTo(HaveOccurred())
		Expect(b.Plant().TimeMS()).To(BeZero(), "it costs no simulated time")
	})

	It("gap: a request that comes too soon after an answer gets exception 06", func() {
		b, c := mannered(func(w *scenarios.Wire) { w.Gap = 250 * time.Millisecond })
		link := south(b, c)
		Expect(link.ReadInputRegisters(0x0100, 1)).Error().NotTo(HaveOccurred())
		for _, step := range []struct {
			waitMS uint32
			seen   types.GomegaMatcher
		}{
			{0, MatchError(ContainSubstring("exception '6'"))},
			{200, MatchError(ContainSubstring("exception '6'"))},
			{100, Not(HaveOccurred())}, // a refused request does not begin the gap anew
			{100, MatchError(ContainSubstring("exception '6'"))},
			{1000, Not(HaveOccurred())},
		} {
			Expect(c.wait(step.waitMS)).To(BeTrue())
			Expect(link.ReadInputRegisters(0x0100, 1)).Error().To(step.seen)
		}
		Expect(b.Traffic().Exceptions).To(Equal(3))
	})

	It("slow: each reply costs its time, exceptions too, and shows the values at its end", func() {
		b, c := mannered(func(w *scenarios.Wire) { w.Slow = 200 * time.Millisecond })
		link := south(b, c)
		for n := range int64(5) {
			_, err := link.ReadInputRegisters(0x0100, 1)
			Expect(err).NotTo(HaveOccurred())
			Expect(b.Plant().TimeMS()).To(Equal(200 * (n + 1)))
		}
		Expect(link.ReadInputRegisters(0x7000, 1)).Error().To(HaveOccurred())
		Expect(b.Plant().TimeMS()).To(BeEquivalentTo(1200))
		Expect(c.write("south", "charge_limit", 1234)).To(Succeed())
		Expect(b.Plant().TimeMS()).To(BeEquivalentTo(1400))
	})

	It("endurance: a register that has had its last write is refused with exception 04, and told", func() {
		var writes []emulator.Write
		b, c := mannered(func(w *scenarios.Wire) { w.Endurance = 3 }, func(t *emulator.Tick) { writes = append(writes, t.Writes...) })
		for range 3 {
			Expect(c.write("south", "charge_limit", 60_000)).NotTo(Succeed(), "what is refused wears nothing")
			Expect(c.write("south", "charge_limit", 1234)).To(Succeed())
		}
		Expect(c.write("south", "charge_limit", 1000)).To(MatchError(ContainSubstring("exception '4'")))
		Expect(c.write("south", "discharge_limit", 1000)).To(Succeed(), "each register has its own")
		Expect(c.read("south", "charge_limit")).To(Equal(1234.0))
		Expect(c.wait(100)).To(BeTrue())
		Expect(b.Plant().Inverters[1].ChargeLimitW()).To(Equal(1234.0))
		Expect(writes).To(ContainElement(And(HaveField("Outcome", emulator.Refused),
			HaveField("Detail", "server device failure: register 515 is worn out after 3 writes"))))
	})
})

package emulator_test

import (
	"slices"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator"
	"kilter/scenarios"
)

var _ = Describe("what a tick tells of the wire", func() {
	// seen is what an observer kept of a tick.
	type seen struct {
		requests   []emulator.Requests
		lost       []bool
		controller emulator.Presence
	}
	var (
		ticks []seen
		c     *client
	)
	// begin plays calm-start with south's link at fault from 1 s to 2 s.
	begin := func(fault scenarios.LinkFaultKind) {
		GinkgoHelper()
		ticks = nil
		sc := story("calm-start")
		sc.Commands = []string{"north"}
		sc.Events = append(sc.Events, scenarios.Event{
			At: time.Second, Device: "south", Link: &scenarios.LinkFault{Kind: fault, Lasts: time.Second},
		})
		b := open(sc, emulator.Options{Pace: emulator.Stepped, Expect: true, Observe: []func(*emulator.Tick){
			func(t *emulator.Tick) {
				ticks = append(ticks, seen{slices.Clone(t.Requests), slices.Clone(t.Lost), t.Controller})
			},
		}})
		play(b, nil)
		c = connect(b)
		Expect(c.wait(500)).To(BeTrue())
	}
	// north, south, grid_meter, price_signal, van_charger and panels are on the bakery's wire, in the order of its tree.
	place := func(name string) int {
		GinkgoHelper()
		n := 0
		for _, d := range story("calm-start").Site.Devices {
			if d.Name == name {
				return n
			}
			if d.Wire != nil {
				n++
			}
		}
		Fail("no device " + name)
		return 0
	}

	It("counts the requests of each device since the tick before, by what they deserve", func() {
		begin(scenarios.Stale)
		Expect(c.write("south", "charge_limit", 60_000)).NotTo(Succeed(), "out of range")
		c.read("south", "charge_limit")
		c.read("south", "soc")
		Expect(c.wait(100)).To(BeTrue())
		Expect(c.wait(100)).To(BeTrue())
		Expect(ticks[5].requests).To(Equal([]emulator.Requests{
			{Place: place("south"), Reads: 2, Writes: 1, Exceptions: 1, Illegal: 1, Forbidden: 1},
		}))
		Expect(ticks[6].requests).To(BeEmpty())
	})

	It("does not blame a client for the exceptions of a link that the scenario made busy", func() {
		begin(scenarios.Busy)
		Expect(c.wait(500)).To(BeTrue())
		Expect(c.write("south", "charge_limit", 1000)).NotTo(Succeed())
		Expect(c.wait(100)).To(BeTrue())
		Expect(ticks[10].requests).To(Equal([]emulator.Requests{{Place: place("south"), Writes: 1, Forbidden: 1}}))
	})

	It("says from when to when a link is lost, and that a stale one is not", func() {
		begin(scenarios.Silent)
		Expect(c.wait(2000)).To(BeTrue())
		for i, t := range ticks {
			Expect(t.lost).To(HaveLen(6))
			Expect(t.lost[place("south")]).To(Equal(i >= 10 && i < 20), "tick %d", i)
			Expect(t.lost[place("north")]).To(BeFalse())
		}
		begin(scenarios.Stale)
		Expect(c.wait(2000)).To(BeTrue())
		for _, t := range ticks {
			Expect(t.lost).NotTo(ContainElement(true))
		}
	})

	It("knows a controller that was heard, one that is to come, and that there is none", func() {
		begin(scenarios.Stale)
		Expect(ticks[0].controller).To(Equal(emulator.Present))
		var first emulator.Presence
		look := func(t *emulator.Tick) { first = t.Controller }
		for expect, want := range map[bool]emulator.Presence{true: emulator.Started, false: emulator.Nobody} {
			b, err := emulator.New(story("calm-start"), emulator.Options{Pace: emulator.Free, Expect: expect, Observe: []func(*emulator.Tick){look}})
			Expect(err).NotTo(HaveOccurred())
			Expect(b.Run(GinkgoT().Context(), nil)).To(Succeed())
			Expect(first).To(Equal(want))
		}
	})
})

package emulator_test

import (
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator"
	"kilter/scenarios"
)

// south's registers that the pollers here read.
const (
	socAt   = 0x0104
	powerAt = 0x0100
)

// poll reads registers one by one, and tells when the first of them was answered.
func (c *client) poll(b *emulator.Bench, device string, addresses ...uint16) time.Duration {
	GinkgoHelper()
	d := deviceOf(c.file, device)
	at := time.Duration(-1)
	for _, a := range addresses {
		_, err := c.link(d.Address, d.Unit).ReadInputRegisters(a, 1)
		Expect(err).NotTo(HaveOccurred())
		if at < 0 {
			at = time.Duration(b.Plant().TimeMS()) * time.Millisecond
		}
	}
	return at
}

var _ = Describe("a bench that follows a poller", func() {
	follow := emulator.Options{Pace: emulator.Follow, Poll: 5 * time.Second}

	It("moves time by one poll period when the first register is read again, and not otherwise", func() {
		b := open(story("calm-start"), follow)
		play(b, nil)
		c := connect(b)
		for i := range 5 {
			Expect(c.poll(b, "south", powerAt, socAt, socAt)).To(Equal(time.Duration(i) * 5 * time.Second))
			time.Sleep(10 * time.Millisecond) // a poller sleeps on the wall clock
			Expect(c.write("south", "charge_limit", 1000)).To(Succeed())
			Expect(c.read("south", "charge_limit")).To(Equal(1000.0))
		}
		Expect(b.Traffic().Polls).To(Equal(5))
		Expect(b.File().PollMS).To(Equal(int64(5000)))
	})

	It("plays a scenario to its end, the same way each time", func() {
		run := func() (grid []float64) {
			opt := follow
			opt.Observe = []func(*emulator.Tick){func(t *emulator.Tick) { grid = append(grid, t.Plant.GridW) }}
			b := open(story("calm-start"), opt)
			ended := play(b, nil)
			c := connect(b)
			d := called(b, "south")
			for limit := int32(3600); ; limit -= 10 {
				if _, err := c.link(d.Address, d.Unit).ReadInputRegisters(powerAt, 1); err != nil {
					break
				}
				if c.write("south", "discharge_limit", limit) != nil {
					break
				}
			}
			Eventually(ended, soon).Should(Receive(BeNil()))
			return grid
		}
		first := run()
		Expect(first).To(HaveLen(12_000))
		Expect(run()).To(Equal(first))
	})

	It("keeps to the period where a link costs time, as far as that goes", func() {
		sc := withSouth(func(w *scenarios.Wire) { w.Slow = 800 * time.Millisecond })
		b := open(sc, follow)
		play(b, nil)
		c := connect(b)
		Expect(c.poll(b, "south", powerAt, socAt)).To(Equal(800 * time.Millisecond))
		Expect(c.poll(b, "south", powerAt, 8, 9, 10, 11, 12, 13, 14)).To(Equal(5800*time.Millisecond), "the poll began at 5 s")
		Expect(c.poll(b, "south", powerAt)).To(Equal(12200*time.Millisecond), "eight slow reads took 6.4 s, until 11.4 s")
	})

	It("finds the polls of a controller that first looks its devices over", func() {
		b := open(story("calm-start"), follow)
		play(b, nil)
		c := connect(b)
		c.poll(b, "south", 8, 9, 10) // never again
		Expect(c.poll(b, "south", powerAt, socAt)).To(BeZero())
		Expect(c.poll(b, "south", powerAt, socAt)).To(BeZero(), "nobody could know")
		for i := range 4 {
			Expect(c.poll(b, "south", powerAt, socAt)).To(Equal(time.Duration(i+1) * 5 * time.Second))
		}
	})

	It("finds them again when the controller leaves a device out", func() {
		b := open(story("calm-start"), follow)
		play(b, nil)
		c := connect(b)
		c.poll(b, "van_charger", 0)
		c.poll(b, "south", powerAt, socAt)
		Expect(c.poll(b, "van_charger", 0)).To(Equal(5 * time.Second))
		c.poll(b, "south", powerAt, socAt)
		Expect(c.poll(b, "south", powerAt, socAt)).To(Equal(5 * time.Second))
		Expect(c.poll(b, "south", powerAt, socAt)).To(Equal(10 * time.Second))
		Expect(c.poll(b, "south", powerAt, socAt)).To(Equal(15 * time.Second))
	})

	It("waits for all of several pollers", func() {
		opt := follow
		opt.Several = []string{"day", "night"}
		b := open(story("calm-start"), opt)
		play(b, nil)
		day, night := connectAs(b, 0), connectAs(b, 1)
		day.poll(b, "south", powerAt)
		again := later(func() { day.poll(b, "south", powerAt) })
		night.poll(b, "south", socAt)
		Consistently(again, 50*time.Millisecond).ShouldNot(BeClosed())
		Expect(night.poll(b, "south", socAt)).To(Equal(5 * time.Second))
		Eventually(again, soon).Should(BeClosed())
	})

	It("refuses a wait, and says of a controller that waits or ends its polls what it did", func() {
		opt := follow
		opt.StallTimeout = 200 * time.Millisecond
		b := open(story("calm-start"), opt)
		ended := play(b, nil)
		c := connect(b)
		c.poll(b, "south", powerAt)
		c.poll(b, "south", powerAt)
		Eventually(ended, soon).Should(Receive(MatchError(
			"the controller stopped polling at 5s of simulated time: it has read nothing again for 200ms")))

		b = open(story("calm-start"), opt)
		play(b, nil)
		c = connect(b)
		Expect(c.wait(1000)).To(BeFalse())
		Expect(b.Traffic().RefusedWait).To(ContainSubstring("in pace follow time moves by polls, and a wait is refused"))
	})
})

package emulator_test

import (
	"bytes"
	"errors"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"go.uber.org/goleak"

	"kilter/emulator"
	"kilter/emulator/capture"
	"kilter/emulator/modbus"
	"kilter/emulator/registers"
	"kilter/scenarios"
)

// perform lets a policy run a story to its end.
func perform(sc *scenarios.Scenario, opt emulator.Options, poll emulator.PolicyFunc) (*emulator.Bench, error) {
	GinkgoHelper()
	opt.Pace = emulator.Stepped
	b := open(sc, opt)
	p := b.StartPolicy(poll, 0)
	err := <-play(b, p.Gone())
	Expect(p.Stop(soon)).To(BeTrue())
	return b, err
}

var _ = Describe("a policy in the bench's own process", func() {
	inside := emulator.Options{Inside: true}

	It("is polled when it wants to be, until the scenario's end, and leaves nothing behind", func() {
		before := goleak.IgnoreCurrent()
		sc := story("calm-start")
		var polls []time.Duration
		b, err := perform(sc, inside, func(c *emulator.Client) (time.Duration, error) {
			polls = append(polls, c.Now())
			Expect(c.Local()).To(BeTemporally("==", sc.Starts.Add(c.Now())))
			return 7 * time.Second, nil
		})
		Expect(err).NotTo(HaveOccurred())
		Expect(b.Plant().TimeMS()).To(Equal(sc.Lasts.Milliseconds()))
		Expect(polls).To(HaveLen(int((sc.Lasts-1)/(7*time.Second)) + 1))
		for i, at := range polls {
			Expect(at).To(Equal(time.Duration(i) * 7 * time.Second))
		}
		Expect(b.Traffic().Waits).To(Equal(len(polls)))
		Expect(goleak.Find(before)).To(Succeed())
	})

	It("reads what the registers show, and no more: resolution, sign and all", func() {
		b := open(story("calm-start"), emulator.Options{Pace: emulator.Stepped, Inside: true})
		p := b.StartPolicy(emulator.PolicyFunc(func(c *emulator.Client) (time.Duration, error) {
			for i, name := range []string{"north", "south"} {
				v := &b.Plant().Inverters[i]
				Expect(c.Read(name, registers.ACPower)).To(BeNumerically("~", v.PowerW, 0.51))
				Expect(c.Read(name, registers.SOC)).To(BeNumerically("~", v.Battery.SOC, 0.00051))
			}
			return time.Minute, nil
		}), 0)
		Expect(<-play(b, p.Gone())).To(Succeed())
		Expect(b.Plant().Inverters[0].PowerW).NotTo(BeZero())
	})

	It("commands by each kind of map, with what the command needs, and takes it away again", func() {
		// south has a declared map without enable registers, north a SunSpec chain with control bits.
		step := 0
		b, err := perform(story("calm-start"), inside, func(c *emulator.Client) (time.Duration, error) {
			switch step++; step {
			case 2:
				Expect(c.Write("south", registers.ChargeLimit, 1234)).To(Succeed())
				Expect(c.Write("north", registers.ChargeLimit, 1000)).To(Succeed())
				Expect(c.Read("south", registers.ChargeLimit)).To(Equal(1234.0), "it reads back at once")
			case 4:
				Expect(c.Release("north", registers.ChargeLimit)).To(Succeed())
				Expect(c.Release("south", registers.ChargeLimit)).To(MatchError("south: charge_limit has no enable bits; write what is neutral instead"))
			case 6:
				return 0, errors.New("enough")
			}
			return time.Second, nil
		})
		Expect(err).To(MatchError(ContainSubstring("the controller ended with enough at 5s of simulated time")))
		Expect(b.Plant().Inverters[1].ChargeLimitW()).To(Equal(1234.0))
		Expect(b.Plant().Inverters[0].ChargeLimitW()).To(Equal(b.Plant().Site().Inverters[0].RatingW), "released")
	})
})

var _ = Describe("a policy and what devices refuse", func() {
	It("is told why: an exception, no such signal, no such device, a value that fits no register", func() {
		_, err := perform(story("calm-start"), emulator.Options{Inside: true}, func(c *emulator.Client) (time.Duration, error) {
			Expect(c.Write("south", registers.ChargeLimit, 60_000)).To(MatchError(modbus.IllegalDataValue))
			Expect(c.Write("south", registers.ChargeLimit, 1e6)).To(MatchError(ContainSubstring("cannot hold")))
			Expect(c.Write("south", registers.MaxCurrent, 6)).To(MatchError("south cannot be commanded max_current"))
			_, err := c.Read("south", registers.MaxCurrent)
			Expect(err).To(MatchError("south has no max_current"))
			_, err = c.Read("west", registers.SOC)
			Expect(err).To(MatchError(`no device called "west" on the wire`))
			return 10 * time.Minute, nil
		})
		Expect(err).NotTo(HaveOccurred())
	})

	It("loses the reply timeout of simulated time to a device that does not answer, and may ask again", func() {
		sc := story("calm-start")
		sc.Events = append(sc.Events, scenarios.Event{
			At: 10 * time.Second, Device: "south", Link: &scenarios.LinkFault{Kind: scenarios.Silent, Lasts: 5 * time.Second},
		})
		waited := false
		b, err := perform(sc, emulator.Options{Inside: true}, func(c *emulator.Client) (time.Duration, error) {
			if waited {
				return time.Hour, nil
			}
			waited = true
			Expect(c.Wait(10_100 * time.Millisecond)).To(Succeed())
			at := c.Now()
			_, err := c.Read("south", registers.SOC)
			Expect(err).To(MatchError(emulator.ErrUnanswered))
			Expect(c.Now()-at).To(Equal(time.Second), "its reply timeout")
			Expect(c.Wait(5 * time.Second)).To(Succeed())
			Expect(c.Read("south", registers.SOC)).To(BeNumerically(">", 0))
			return time.Hour, nil
		})
		Expect(err).NotTo(HaveOccurred())
		Expect(b.Traffic().Devices).To(ConsistOf(And(HaveField("Device", "south"), HaveField("Unanswered", 1), HaveField("Reads", 2))))
	})

	It("loses it too to replies that make no sense, however a fault spoils them", func() {
		b := open(story("calm-start"), emulator.Options{Pace: emulator.Stepped, Inside: true})
		p := b.StartPolicy(emulator.PolicyFunc(func(c *emulator.Client) (time.Duration, error) {
			for _, spoil := range []modbus.Spoil{modbus.NoReply, modbus.Garbage, modbus.HalfReply, modbus.WrongTransaction, modbus.WrongUnit, modbus.WrongFunction, modbus.WrongCount} {
				Expect(b.SetFault("south", modbus.Fault{Spoil: spoil})).To(Succeed())
				at := c.Now()
				_, err := c.Read("south", registers.SOC)
				Expect(err).To(MatchError(emulator.ErrUnanswered), "%v", spoil)
				Expect(c.Now()-at).To(Equal(time.Second), "%v", spoil)
			}
			Expect(b.SetFault("south", modbus.Fault{})).To(Succeed())
			Expect(c.Read("south", registers.SOC)).To(BeNumerically(">", 0))
			return time.Hour, nil
		}), 0)
		Expect(<-play(b, p.Gone())).To(Succeed())
	})
})

var _ = Describe("a policy that comes to grief", func() {
	It("has died where it panics, and where it would be polled without end", func() {
		_, err := perform(story("calm-start"), emulator.Options{Inside: true}, func(c *emulator.Client) (time.Duration, error) {
			if c.Now() > 0 {
				panic("no such battery")
			}
			return time.Second, nil
		})
		Expect(err).To(MatchError(ContainSubstring("ended with a panic: no such battery at 1s")))
		_, err = perform(story("calm-start"), emulator.Options{Inside: true}, func(*emulator.Client) (time.Duration, error) { return 0, nil })
		Expect(err).To(MatchError(ContainSubstring("ended with a next poll after 0s: must be 1 ms or longer")))
	})

	It("can be stopped while it waits, which is no death", func() {
		b := open(story("calm-start"), emulator.Options{Pace: emulator.Stepped, Inside: true})
		p := b.StartPolicy(emulator.PolicyFunc(func(*emulator.Client) (time.Duration, error) { return time.Hour, nil }), 0)
		Expect(p.Stop(soon)).To(BeTrue()) // nothing runs the bench, so that it waits
		Expect(<-p.Gone()).To(Succeed())
	})

	It("is found out where it never asks anything again", func() {
		ever := make(chan struct{})
		defer close(ever)
		b := open(story("calm-start"), emulator.Options{Pace: emulator.Stepped, Inside: true, StallTimeout: 20 * time.Millisecond, StartTimeout: 20 * time.Millisecond})
		p := b.StartPolicy(emulator.PolicyFunc(func(c *emulator.Client) (time.Duration, error) {
			if c.Now() > 0 {
				<-ever
			}
			return time.Second, nil
		}), 0)
		Expect(<-play(b, p.Gone())).To(MatchError(ContainSubstring("stopped waiting at 1s")))
		Expect(p.Stop(time.Millisecond)).To(BeFalse())
	})
})

var _ = Describe("equal policies", func() {
	It("give equal traffic, byte for byte, and the same as on a bench with ports", func() {
		record := func(inside bool) string {
			var file bytes.Buffer
			sc := story("calm-start")
			frames := capture.New(&file, sc.Starts)
			_, err := perform(sc, emulator.Options{Inside: inside, Capture: frames}, func(c *emulator.Client) (time.Duration, error) {
				north, _ := c.Read("north", registers.ACPower)
				soc, _ := c.Read("south", registers.SOC)
				return 5 * time.Second, c.Write("south", registers.DischargeLimit, 1000+1000*soc+0.01*north)
			})
			Expect(err).NotTo(HaveOccurred())
			Expect(frames.Close()).To(Succeed())
			return file.String()
		}
		first := record(true)
		Expect(len(first)).To(BeNumerically(">", 10_000))
		Expect(record(true)).To(Equal(first))
		Expect(record(false)).To(Equal(first))
	})
})

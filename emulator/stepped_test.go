package emulator_test

import (
	"context"
	"encoding/binary"
	"errors"
	"math"
	"net"
	"strconv"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"go.uber.org/goleak"

	"kilter/emulator"
	"kilter/scenarios"
)

// play runs a bench in the background; what it returns comes out of the channel.
func play(b *emulator.Bench, gone <-chan error) <-chan error {
	ended := make(chan error, 1)
	ctx, cancel := context.WithCancel(context.Background())
	DeferCleanup(cancel)
	go func() {
		err := b.Run(ctx, gone)
		b.Close()
		ended <- err
	}()
	return ended
}

var _ = Describe("a bench in stepped pace", func() {
	It("moves time by what the controller waits, and not otherwise", func() {
		b := open(story("calm-start"), emulator.Options{Pace: emulator.Stepped})
		play(b, nil)
		c := connect(b)
		before := c.read("south", "soc")
		time.Sleep(20 * time.Millisecond)
		Expect(c.read("south", "soc")).To(Equal(before))
		Expect(b.Plant().Tick()).To(BeZero())
		Expect(c.wait(10_000)).To(BeTrue())
		Expect(b.Plant().TimeMS()).To(Equal(int64(10_000)))
		Expect(c.wait(250)).To(BeTrue(), "a wait is rounded up to the step")
		Expect(b.Plant().TimeMS()).To(Equal(int64(10_300)))
	})

	It("reads back a written register at once, and lets the plant act at the next tick", func() {
		b := open(story("calm-start"), emulator.Options{Pace: emulator.Stepped})
		play(b, nil)
		c := connect(b)
		Expect(c.wait(5000)).To(BeTrue())
		Expect(c.write("south", "charge_limit", 1234)).To(Succeed())
		Expect(c.read("south", "charge_limit")).To(Equal(1234.0))
		Expect(b.Plant().Inverters[1].ChargeLimitW()).To(Equal(3600.0))
		Expect(c.wait(100)).To(BeTrue())
		Expect(b.Plant().Inverters[1].ChargeLimitW()).To(Equal(1234.0))
	})

	It("answers a value that the map refuses with exception 03, and changes nothing", func() {
		b := open(story("calm-start"), emulator.Options{Pace: emulator.Stepped})
		play(b, nil)
		c := connect(b)
		Expect(c.write("south", "charge_limit", 60_000)).To(MatchError(ContainSubstring("exception '3'")))
		Expect(c.wait(100)).To(BeTrue())
		Expect(b.Plant().Inverters[1].ChargeLimitW()).To(Equal(3600.0))
	})

	It("shows measured points in the unit and sign that the map states", func() {
		b := open(story("calm-start"), emulator.Options{Pace: emulator.Stepped})
		play(b, nil)
		c := connect(b)
		for range 30 {
			Expect(c.wait(10_000)).To(BeTrue())
			v := &b.Plant().Inverters[1]
			Expect(c.read("south", "ac_power")).To(BeNumerically("~", v.PowerW, 0.51))
			Expect(c.read("south", "soc")).To(BeNumerically("~", v.Battery.SOC, 0.00051))
		}
		Expect(math.Abs(b.Plant().Inverters[1].PowerW)).To(BeNumerically(">", 100), "else the sign was not tested")
	})

	It("makes an observer's panic the run's, in whose goroutine it may be recovered", func() {
		b := open(story("calm-start"), emulator.Options{Pace: emulator.Stepped, Observe: []func(*emulator.Tick){
			func(t *emulator.Tick) {
				if t.Plant.TimeMS() == 5000 {
					panic("out of luck")
				}
			},
		}})
		recovered := make(chan any, 1)
		go func() {
			defer func() { recovered <- recover() }()
			_ = b.Run(context.Background(), nil)
		}()
		later(func() { connect(b).wait(10_000) })
		Eventually(recovered, soon).Should(Receive(Equal("out of luck")))
	})

	It("ends at the scenario's end, and closes the controller's connection", func() {
		sc := story("calm-start")
		b := open(sc, emulator.Options{Pace: emulator.Stepped})
		ended := play(b, nil)
		c := connect(b)
		Expect(c.wait(uint32(sc.Lasts.Milliseconds()) + 60_000)).To(BeFalse())
		Eventually(ended, soon).Should(Receive(BeNil()))
		Expect(b.Plant().TimeMS()).To(Equal(sc.Lasts.Milliseconds()))
	})

	It("lets a silent device cost its reply timeout of simulated time, and then closes the connection", func() {
		sc := story("calm-start")
		sc.Events = append(sc.Events, scenarios.Event{
			At: 10 * time.Second, Device: "south", Link: &scenarios.LinkFault{Kind: scenarios.Silent, Lasts: 5 * time.Second},
		})
		b := open(sc, emulator.Options{Pace: emulator.Stepped})
		play(b, nil)
		c := connect(b)
		Expect(c.wait(10_100)).To(BeTrue())
		d := called(b, "south")
		at := b.Plant().TimeMS()
		_, err := c.link(d.Address, d.Unit).ReadInputRegisters(0, 1)
		Expect(err).To(HaveOccurred())
		Expect(c.wait(0)).To(BeTrue()) // a closed connection orders nothing; a reply does
		Expect(b.Plant().TimeMS()).To(Equal(at + d.ReplyMS))
		Expect(c.wait(5000)).To(BeTrue())
		delete(c.links, d.Address)
		Expect(c.read("south", "soc")).To(BeNumerically(">", 0), "it answers again afterwards")
	})

	It("lets a command lapse that lasts a limited time, and its register with it", func() {
		b := open(story("calm-start"), emulator.Options{Pace: emulator.Stepped})
		play(b, nil)
		c := connect(b)
		d := called(b, "south")
		lasts := point(*d.Registers, "setpoint").LastsS
		Expect(lasts).To(Equal(60.0))
		Expect(c.write("south", "setpoint", -1000)).To(Succeed())
		Expect(c.wait(59_000)).To(BeTrue())
		Expect(b.Plant().Inverters[1].SetpointW()).To(Equal(1000.0), "discharge is positive in the register")
		Expect(c.wait(1100)).To(BeTrue())
		Expect(b.Plant().Inverters[1].SetpointW()).To(BeZero())
		Expect(c.read("south", "setpoint")).To(BeZero())
	})

	Describe("tells what became of a controller", func() {
		outcome := func(opt emulator.Options, gone <-chan error, act func(*emulator.Bench)) *emulator.ControllerError {
			GinkgoHelper()
			opt.Pace = emulator.Stepped
			b := open(story("calm-start"), opt)
			ended := play(b, gone)
			act(b)
			var err error
			Eventually(ended, soon).Should(Receive(&err))
			var failed *emulator.ControllerError
			Expect(errors.As(err, &failed)).To(BeTrue(), "%v", err)
			return failed
		}

		It("that never connects", func() {
			e := outcome(emulator.Options{StartTimeout: 30 * time.Millisecond}, nil, func(*emulator.Bench) {})
			Expect(e).To(MatchError("the controller never connected to any device within 30ms"))
			Expect(e.Came).To(BeFalse())
		})

		It("that connects and sleeps instead of waiting", func() {
			e := outcome(emulator.Options{StartTimeout: time.Second}, nil, func(b *emulator.Bench) {
				connect(b).read("south", "soc")
			})
			Expect(e).To(MatchError(ContainSubstring("never wrote the bench clock's wait register")))
		})

		It("that stops waiting", func() {
			e := outcome(emulator.Options{StallTimeout: 30 * time.Millisecond}, nil, func(b *emulator.Bench) {
				connect(b).wait(10_000)
			})
			Expect(e).To(MatchError("the controller stopped waiting at 10s of simulated time: nothing for 30ms"))
			Expect(e.Came).To(BeTrue())
		})

		It("that ends by itself", func() {
			gone := make(chan error, 1)
			e := outcome(emulator.Options{}, gone, func(b *emulator.Bench) {
				connect(b).wait(10_000)
				gone <- nil
			})
			Expect(e).To(MatchError("the controller ended with exit code 0 at 10s of simulated time; the scenario lasts 20m0s"))
		})
	})

	It("gives the same trace for the same commands, whatever the wall clock does", func() {
		runOnce := func(sleep time.Duration) []float64 {
			var grid []float64
			b := open(story("calm-start"), emulator.Options{Pace: emulator.Stepped, Observe: []func(*emulator.Tick){
				func(t *emulator.Tick) { grid = append(grid, t.Plant.GridW) },
			}})
			ended := play(b, nil)
			c := connect(b)
			for limit := int32(3600); c.wait(20_000); limit -= 50 {
				time.Sleep(sleep)
				if c.write("south", "discharge_limit", limit) != nil {
					break
				}
			}
			Eventually(ended, soon).Should(Receive(BeNil()))
			return grid
		}
		Expect(runOnce(0)).To(Equal(runOnce(2 * time.Millisecond)))
	})

	It("leaves no goroutine and no port behind", func() {
		before := goleak.IgnoreCurrent()
		b, err := emulator.New(story("calm-start"), emulator.Options{Pace: emulator.Stepped})
		Expect(err).NotTo(HaveOccurred())
		ended := make(chan error, 1)
		go func() { ended <- b.Run(context.Background(), nil) }()
		c := connect(b)
		Expect(c.wait(10_000)).To(BeTrue())
		waiting := make(chan bool, 1)
		go func() { waiting <- c.wait(30 * 60_000) }()
		Eventually(ended, soon).Should(Receive())
		Expect(b.Close()).To(Succeed())
		Eventually(waiting, soon).Should(Receive(BeFalse()))
		Expect(goleak.Find(before)).To(Succeed())
	})
})

var _ = Describe("a bench in real pace", func() {
	It("follows the wall clock, and reads back a written register at once", func() {
		b := open(story("calm-start"), emulator.Options{Pace: emulator.Real, Endless: true})
		play(b, nil)
		c := connect(b)
		start := time.Now()
		Expect(c.write("south", "charge_limit", 777)).To(Succeed())
		Expect(c.read("south", "charge_limit")).To(Equal(777.0))
		Expect(c.wait(500)).To(BeTrue())
		Expect(time.Since(start)).To(BeNumerically(">", 350*time.Millisecond))
	})
})

var _ = Describe("making a bench", func() {
	It("names the port that is in use", func() {
		first := open(story("calm-start"), emulator.Options{Pace: emulator.Real})
		_, port, err := net.SplitHostPort(first.File().Clock.Address)
		Expect(err).NotTo(HaveOccurred())
		taken, err := strconv.Atoi(port)
		Expect(err).NotTo(HaveOccurred())
		_, err = emulator.New(story("calm-start"), emulator.Options{Pace: emulator.Real, Port: taken})
		Expect(err).To(MatchError(ContainSubstring("127.0.0.1:" + port + " is in use: another program listens there")))
	})

	It("plays a story without a controller as fast as it can", func() {
		b := open(story("left-alone"), emulator.Options{})
		Expect(b.Run(context.Background(), nil)).To(Succeed())
		Expect(b.Plant().Audit().Ok()).To(BeTrue())
		Expect(b.Plant().TimeMS()).To(Equal(story("left-alone").Lasts.Milliseconds()))
	})

	It("tells the controller which meter stands at the inlet, and which belong to the loops", func() {
		b := open(story("calm-start"), emulator.Options{Pace: emulator.Stepped})
		Expect(called(b, "grid_meter").Role).To(Equal("grid"))
		Expect(called(b, "north").Meter).To(Equal("north_ct"))
		Expect(called(b, "north").Command).To(BeTrue())
	})
})

var _ = Describe("a command life", func() {
	It("ends in the registers when it ends in the plant, and a lapse does not renew it", func() {
		sc := story("calm-start")
		site := *sc.Site
		site.Plant.Inverters = append(site.Plant.Inverters[:0:0], site.Plant.Inverters...)
		site.Plant.Inverters[1].CommandLifeS = 61
		sc.Site = &site
		b := open(sc, emulator.Options{Pace: emulator.Stepped})
		play(b, nil)
		c := connect(b)
		Expect(c.write("south", "charge_limit", 1024)).To(Succeed())
		Expect(c.write("south", "setpoint", -500)).To(Succeed()) // lapses after 60 s
		Expect(c.wait(60_500)).To(BeTrue())
		Expect(c.read("south", "setpoint")).To(BeZero())
		Expect(c.read("south", "charge_limit")).To(Equal(1024.0))
		Expect(c.wait(1000)).To(BeTrue())
		Expect(b.Plant().Inverters[1].ChargeLimitW()).To(Equal(3600.0))
		Expect(c.read("south", "charge_limit")).To(Equal(3600.0))
	})
})

var _ = Describe("the tariff signal", func() {
	It("tells the cheap slot and the price from the instant on at which they hold", func() {
		sc := story("calm-start")
		sc.Cheap = []scenarios.Window{{From: 0, To: 10 * time.Second}, {From: 30 * time.Second, To: 40 * time.Second}}
		sc.Prices = []scenarios.PriceWindow{
			{Window: scenarios.Window{From: 0, To: 30 * time.Second}, Price: 0.11},
			{Window: scenarios.Window{From: 30 * time.Second, To: time.Minute}, Price: -0.02},
		}
		b := open(sc, emulator.Options{Pace: emulator.Stepped})
		play(b, nil)
		c := connect(b)
		d := called(b, "price_signal")
		told := func() []uint16 {
			GinkgoHelper()
			raw, err := c.link(d.Address, d.Unit).ReadInputRegisters(0, 3)
			Expect(err).NotTo(HaveOccurred())
			return []uint16{binary.BigEndian.Uint16(raw), binary.BigEndian.Uint16(raw[2:]), binary.BigEndian.Uint16(raw[4:])}
		}
		Expect(told()).To(Equal([]uint16{1, 0, 1100}))
		Expect(c.wait(10_000)).To(BeTrue())
		Expect(told()).To(Equal([]uint16{0, 0, 1100}))
		Expect(c.wait(20_000)).To(BeTrue())
		Expect(told()).To(Equal([]uint16{1, 0xFFFF, 0xFF38}))
		Expect(c.wait(30_000)).To(BeTrue())
		Expect(told()).To(Equal([]uint16{0, 0x8000, 0}), "no price is known")
	})
})

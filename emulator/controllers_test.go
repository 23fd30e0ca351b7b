package emulator_test

import (
	"bytes"
	"encoding/binary"
	"errors"
	"math/rand/v2"
	"os/exec"
	"runtime"
	"sync"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator"
	"kilter/emulator/capture"
	"kilter/emulator/registers"
	"kilter/scenarios"
)

// both is what a bench for two controllers is opened with.
func both(more ...func(*emulator.Options)) emulator.Options {
	opt := emulator.Options{Pace: emulator.Stepped, Several: []string{"day", "night"}}
	for _, f := range more {
		f(&opt)
	}
	return opt
}

// withSouth changes how south behaves on the wire.
func withSouth(change func(*scenarios.Wire)) *scenarios.Scenario {
	GinkgoHelper()
	sc := story("calm-start")
	site := *sc.Site
	site.Devices = append(site.Devices[:0:0], site.Devices...)
	for i, d := range site.Devices {
		if d.Name == "south" {
			w := *d.Wire
			change(&w)
			site.Devices[i].Wire = &w
		}
	}
	sc.Site = &site
	return sc
}

// later does something in the background; the channel closes when it is done.
func later(f func()) <-chan struct{} {
	done := make(chan struct{})
	go func() {
		defer GinkgoRecover()
		defer close(done)
		f()
	}()
	return done
}

var _ = Describe("a bench with two controllers", func() {
	It("starts at a barrier, and moves time to the earliest wait", func() {
		b := open(story("calm-start"), both())
		play(b, nil)
		day, night := connectAs(b, 0), connectAs(b, 1)
		waited := later(func() { Expect(day.wait(10_000)).To(BeTrue()) })
		Consistently(waited, 50*time.Millisecond).ShouldNot(BeClosed(), "night has not come yet")
		Expect(b.Plant().Tick()).To(BeZero())
		Expect(night.wait(4000)).To(BeTrue())
		Expect(b.Plant().TimeMS()).To(Equal(int64(4000)))
		Consistently(waited, 50*time.Millisecond).ShouldNot(BeClosed())
		Expect(later(func() { night.wait(60_000) })).NotTo(BeClosed())
		Eventually(waited, soon).Should(BeClosed())
		Expect(b.Plant().TimeMS()).To(Equal(int64(10_000)))
	})

	It("shows each the state at the instant's opening and its own writes, and then what both have written", func() {
		b := open(story("calm-start"), both())
		play(b, nil)
		day, night := connectAs(b, 0), connectAs(b, 1)
		Expect(night.write("south", "charge_limit", 2000)).To(Succeed()) // the first on the wall clock
		Expect(night.write("south", "discharge_limit", 1500)).To(Succeed())
		Expect(day.write("south", "charge_limit", 1000)).To(Succeed())
		Expect(day.read("south", "charge_limit")).To(Equal(1000.0))
		Expect(day.read("south", "discharge_limit")).To(Equal(3600.0))
		Expect(night.read("south", "charge_limit")).To(Equal(2000.0))
		waited := later(func() { Expect(day.wait(100)).To(BeTrue()) })
		Expect(night.wait(100)).To(BeTrue())
		Eventually(waited, soon).Should(BeClosed())
		for _, c := range []*client{day, night} {
			Expect(c.read("south", "charge_limit")).To(Equal(2000.0), "night comes after day, whatever the wall clock says")
			Expect(c.read("south", "discharge_limit")).To(Equal(1500.0))
		}
		Expect(b.Plant().Inverters[1].ChargeLimitW()).To(Equal(2000.0))
	})

	It("shows one whose write was refused the state of each later instant too", func() {
		b := open(story("calm-start"), both())
		play(b, nil)
		day, night := connectAs(b, 0), connectAs(b, 1)
		d := deviceOf(day.file, "south")
		_, err := day.link(d.Address, d.Unit).WriteSingleRegister(0xFFFF, 1)
		Expect(err).To(HaveOccurred())
		at := day.read("south", "ac_power")
		waited := later(func() { Expect(day.wait(60_000)).To(BeTrue()) })
		Expect(night.wait(60_000)).To(BeTrue())
		Eventually(waited, soon).Should(BeClosed())
		Expect(night.read("south", "ac_power")).NotTo(Equal(at))
		Expect(day.read("south", "ac_power")).To(Equal(night.read("south", "ac_power")))
	})

	It("lets them come to a device that serves one client in the order of their numbers", func() {
		b := open(withSouth(func(w *scenarios.Wire) { w.Clients = 1 }), both())
		play(b, nil)
		day, night := connectAs(b, 0), connectAs(b, 1)
		refused := later(func() {
			d := deviceOf(night.file, "south")
			_, err := night.link(d.Address, d.Unit).ReadInputRegisters(0x0100, 1)
			Expect(err).To(HaveOccurred())
			night.wait(10_000)
		})
		Consistently(refused, 50*time.Millisecond).ShouldNot(BeClosed(), "day may come yet")
		Expect(day.read("south", "soc")).To(BeNumerically(">", 0))
		Expect(day.wait(10_000)).To(BeTrue())
		Eventually(refused, soon).Should(BeClosed())
	})

	It("counts the traffic of each, and of both", func() {
		b := open(story("calm-start"), both())
		play(b, nil)
		day, night := connectAs(b, 0), connectAs(b, 1)
		for range 3 {
			waited := later(func() { Expect(day.wait(10_000)).To(BeTrue()) })
			night.read("south", "soc")
			night.read("south", "ac_power")
			Expect(night.wait(10_000)).To(BeTrue())
			Eventually(waited, soon).Should(BeClosed())
			day.read("south", "soc")
		}
		Expect(b.TrafficOf(0)).To(And(HaveField("Reads", 3), HaveField("Polls", 3), HaveField("Waits", 3)))
		Expect(b.TrafficOf(1)).To(And(HaveField("Reads", 6), HaveField("Polls", 3), HaveField("Waits", 3)))
		sum := b.Traffic()
		Expect(sum).To(And(HaveField("Reads", 9), HaveField("Polls", 6), HaveField("Waits", 6)))
		Expect(sum.Devices).To(HaveLen(1))
		Expect(sum.Devices[0].Reads).To(Equal(9))
	})

	It("names the one that does not wait", func() {
		b := open(story("calm-start"), both(func(o *emulator.Options) { o.StartTimeout = 300 * time.Millisecond }))
		ended := play(b, nil)
		later(func() { connectAs(b, 0).wait(10_000) })
		Eventually(ended, soon).Should(Receive(MatchError("the controller night never connected to any device within 300ms")))
	})

	DescribeTable("records what the others do in the instant in which one ends, however slow they are",
		func(gap time.Duration) {
			b := open(withSouth(func(w *scenarios.Wire) { w.Gap = gap }), both(func(o *emulator.Options) { o.Inside = true }))
			gone := make(chan error, 1)
			ended := play(b, gone)
			polls := 0
			day := b.StartPolicy(emulator.PolicyFunc(func(*emulator.Client) (time.Duration, error) {
				if polls++; polls == 3 {
					return 0, errors.New("enough")
				}
				return 10 * time.Second, nil
			}), 0)
			night := b.StartPolicy(emulator.PolicyFunc(func(c *emulator.Client) (time.Duration, error) {
				if c.Now() == 20*time.Second {
					time.Sleep(50 * time.Millisecond)
					_ = c.Write("south", registers.ChargeLimit, 1000)
				}
				return 10 * time.Second, nil
			}), 1)
			gone <- &emulator.Exit{Controller: 0, Err: <-day.Gone()}
			Expect(<-ended).To(MatchError(HavePrefix("the controller day ended with enough at 20s")))
			Expect(night.Stop(soon)).To(BeTrue())
			Expect(b.Unseen()).To(ConsistOf(And(HaveField("Controller", 1), HaveField("Tick", int64(200)))))
			Expect(b.TrafficOf(1).Waits).To(Equal(3))
		},
		Entry("at a device for which it does not matter who comes first", time.Duration(0)),
		Entry("at one for which it does", 50*time.Millisecond),
	)

	It("names the one that ended", func() {
		gone := make(chan error, 1)
		gone <- &emulator.Exit{Controller: 1, Err: errors.New("exit status 3")}
		b := open(story("calm-start"), both())
		Expect(<-play(b, gone)).To(MatchError("the controller night ended with exit status 3 before it connected to any device"))
	})
})

// repeated plays calm-start with as many controllers at once, which pause on the wall clock at random, and returns
// what is recorded: the grid flow of each step, what was written, and the file of the traffic.
func repeated(n int, pauses uint64) (grid []float64, writes []emulator.Write, file []byte) {
	GinkgoHelper()
	sc := withSouth(func(w *scenarios.Wire) { w.Gap = 50 * time.Millisecond })
	sc.Lasts = 2 * time.Minute
	for i, kind := range []scenarios.LinkFaultKind{scenarios.Silent, scenarios.Jittery, scenarios.Garbage, scenarios.Slow} {
		sc.Events = append(sc.Events, scenarios.Event{
			At: time.Duration(i+1) * 20 * time.Second, Device: "south",
			Link: &scenarios.LinkFault{Kind: kind, Lasts: 15 * time.Second, Delay: 700 * time.Millisecond},
		})
	}
	var traffic bytes.Buffer
	frames := capture.New(&traffic, sc.Starts)
	b := open(sc, emulator.Options{Pace: emulator.Stepped, Capture: frames, Several: []string{"a", "b"}[:n],
		Observe: []func(*emulator.Tick){func(t *emulator.Tick) {
			grid = append(grid, t.Plant.GridW)
			writes = append(writes, t.Writes...)
		}}})
	ended := play(b, nil)
	var all sync.WaitGroup
	for i := range n {
		c := connectAs(b, i)
		random := rand.New(rand.NewPCG(pauses, uint64(i)))
		all.Go(func() {
			defer GinkgoRecover()
			south, grid := deviceOf(c.file, "south"), deviceOf(c.file, "grid_meter")
			for poll := uint32(0); ; poll++ {
				time.Sleep(time.Duration(random.IntN(300)) * time.Microsecond)
				// What is refused or lost is a part of what must repeat.
				for _, address := range []uint16{0x0100, 0x0200} {
					if _, err := c.link(south.Address, south.Unit).ReadInputRegisters(address, 2); err != nil && !isException(err) {
						delete(c.links, south.Address)
					}
				}
				_, err := c.link(grid.Address, grid.Unit).ReadHoldingRegisters(40000, 2)
				if err == nil {
					value := binary.BigEndian.AppendUint16(nil, uint16(3000-poll*uint32(10*i+7)))
					if _, err = c.link(south.Address, south.Unit).WriteMultipleRegisters(515, 1, value); err != nil && !isException(err) {
						delete(c.links, south.Address)
					}
				}
				if !c.wait(5000 + 100*uint32(i)) {
					return
				}
			}
		})
	}
	Eventually(ended, 60*time.Second).Should(Receive(BeNil()))
	all.Wait()
	Expect(frames.Close()).To(Succeed())
	return grid, writes, traffic.Bytes()
}

// load keeps the machine busy with other processes until the spec ends.
func load() {
	GinkgoHelper()
	for range runtime.NumCPU() {
		busy := exec.Command("sh", "-c", "while :; do :; done")
		Expect(busy.Start()).To(Succeed())
		DeferCleanup(func() {
			_ = busy.Process.Kill()
			_ = busy.Wait()
		})
	}
}

// isException tells a refusal from a connection that has ended.
func isException(err error) bool {
	return bytes.Contains([]byte(err.Error()), []byte("exception"))
}

var _ = Describe("equal runs in stepped pace", func() {
	for n := 1; n <= 2; n++ {
		It([...]string{1: "are equal to the bit with one controller", "are with two"}[n]+", however busy the machine is", func() {
			grid, writes, file := repeated(n, 1)
			Expect(writes).NotTo(BeEmpty())
			load()
			for pauses := uint64(2); pauses < 3; pauses++ {
				again, written, traffic := repeated(n, pauses)
				Expect(again).To(Equal(grid))
				Expect(written).To(Equal(writes))
				Expect(bytes.Equal(traffic, file)).To(BeTrue(), "the file of the traffic differs")
			}
		})
	}
})

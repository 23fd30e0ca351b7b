package suites_test

import (
	"context"
	"encoding/binary"
	"errors"
	"time"

	goburrow "github.com/goburrow/modbus"
	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"go.uber.org/goleak"

	"kilter/emulator"
	"kilter/emulator/registers"
	"kilter/scenarios"
	"kilter/suites"
	"kilter/suites/verdict"
)

// stopSouth is a whole policy: it keeps south still, so that north alone follows the load.
func stopSouth() emulator.Policy {
	return emulator.PolicyFunc(func(c *emulator.Client) (time.Duration, error) {
		return 10 * time.Second, errors.Join(c.Write("south", registers.ChargeLimit, 0), c.Write("south", registers.DischargeLimit, 0))
	})
}

// serveSouth does the same over Modbus, with an independent client: goburrow/modbus.
func serveSouth(_ context.Context, bench emulator.File) error {
	dial := func(address string, unit byte) (goburrow.Client, *goburrow.TCPClientHandler) {
		h := goburrow.NewTCPClientHandler(address)
		h.SlaveId, h.Timeout = unit, time.Minute
		return goburrow.NewClient(h), h
	}
	clock, h := dial(bench.Clock.Address, bench.Clock.Unit)
	defer h.Close()
	for _, d := range bench.Devices {
		if d.Name == "south" {
			south, h := dial(d.Address, d.Unit)
			defer h.Close()
			if _, err := south.WriteMultipleRegisters(0x203, 2, make([]byte, 4)); err != nil {
				return err
			}
		}
	}
	for {
		if _, err := clock.WriteMultipleRegisters(0, 2, binary.BigEndian.AppendUint32(nil, 10_000)); err != nil {
			return nil // the clock has closed: the scenario is over
		}
	}
}

// against plays a built-in story against a controller of this process.
func against(name string, c suites.Controller) (*suites.Outcome, error) {
	GinkgoHelper()
	sc, err := scenarios.Builtin(name)
	Expect(err).NotTo(HaveOccurred())
	return suites.Play(GinkgoT().Context(), sc, suites.Options{Pace: emulator.Stepped, Controller: c})
}

var _ = Describe("a controller in this process", func() {
	policy := suites.Controller{Name: "south stopped", Policy: stopSouth}
	server := suites.Controller{Name: "south stopped", Serve: serveSouth}

	DescribeTable("is judged as any other, and leaves nothing behind", func(c suites.Controller) {
		before := goleak.IgnoreCurrent()
		out, err := against("left-alone", c)
		Expect(err).NotTo(HaveOccurred())
		Expect(out.Run.Error).To(BeNil())
		Expect(out.Run.Controller).To(Equal("south stopped"))
		Expect(out).To(suites.Hold("circulating"), "what it fails with nobody on the wire")
		Expect(out.Record.Commands).To(HaveLen(2 * map[bool]int{true: int(out.Scenario.Lasts / (10 * time.Second)), false: 1}[c.Policy != nil]))
		Expect(out.Run.Wire.Writes).To(Equal(len(out.Writes)))
		Eventually(func() error { return goleak.Find(before) }).Should(Succeed())
	},
		Entry("a policy that the bench polls", policy),
		Entry("a goroutine that speaks Modbus", server),
	)

	It("gives the same trace and verdict each time", func() {
		first, err := against("calm-start", policy)
		Expect(err).NotTo(HaveOccurred())
		second, err := against("calm-start", policy)
		Expect(err).NotTo(HaveOccurred())
		Expect(second.Run).To(Equal(first.Run))
		Expect(second.Parquet).To(Equal(first.Parquet))
	})

	It("has died where it panics or returns an error", func() {
		for _, c := range []suites.Controller{
			{Policy: func() emulator.Policy {
				return emulator.PolicyFunc(func(*emulator.Client) (time.Duration, error) { panic("no battery") })
			}},
			{Serve: func(context.Context, emulator.File) error { panic("no battery") }},
			{Serve: func(context.Context, emulator.File) error { return errors.New("no battery") }},
		} {
			out, err := against("calm-start", c)
			Expect(err).NotTo(HaveOccurred())
			Expect(out.Run.Error.Detail).To(ContainSubstring("no battery"))
			Expect(out.Run.Error.Kind).To(Equal(verdict.ControllerNeverCame))
		}
	})

	It("is one controller", func() {
		_, err := against("calm-start", suites.Controller{Name: "both", Policy: stopSouth, Serve: serveSouth})
		Expect(err).To(MatchError("the controller both has 2 of Command, Serve, Policy and Attach: give one"))
	})
})

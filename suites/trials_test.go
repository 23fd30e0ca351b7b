package suites_test

import (
	"errors"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"go.uber.org/goleak"

	"kilter/emulator"
	"kilter/emulator/registers"
	"kilter/suites"
	"kilter/suites/verdict"
)

const poll = 10 * time.Second

// tight lets each inverter give what is wanted and 50 W more, and takes nothing in: nothing can circulate, and all is
// well while it is there, since it raises the limits at its next poll.
func tight(c *emulator.Client) error {
	grid, err1 := c.Read("grid_meter", registers.ACPower)
	north, err2 := c.Read("north", registers.ACPower)
	south, err3 := c.Read("south", registers.ACPower)
	if err := errors.Join(err1, err2, err3); err != nil {
		return err
	}
	wanted := max(0, grid-north-south)
	return errors.Join(
		c.Write("north", registers.ChargeLimit, 0), c.Write("south", registers.ChargeLimit, 0),
		c.Write("south", registers.DischargeLimit, min(3600, wanted+50)),
		c.Write("north", registers.DischargeLimit, min(5000, max(0, wanted-3550))),
	)
}

// polling makes a policy of what is done each poll. It goes on after errors.
func polling(each func(*emulator.Client) error) func() emulator.Policy {
	return func() emulator.Policy {
		return emulator.PolicyFunc(func(c *emulator.Client) (time.Duration, error) {
			_ = each(c)
			return poll, nil
		})
	}
}

// resigned does not ask again what has failed once.
func resigned() emulator.Policy {
	given := false
	return emulator.PolicyFunc(func(c *emulator.Client) (time.Duration, error) {
		given = given || tight(c) != nil
		return poll, nil
	})
}

// dayBound polls when ten seconds have passed by the time of day.
func dayBound() emulator.Policy {
	var last time.Time
	return emulator.PolicyFunc(func(c *emulator.Client) (time.Duration, error) {
		if now := c.Local(); now.Sub(last) >= poll {
			last = now
			return poll, tight(c)
		}
		return poll, nil
	})
}

// integrating gives with south what it sees missing at the inlet, from its own memory of what it gives, and holds
// north: alone it settles at the second poll.
func integrating() emulator.Policy {
	given := 0.0
	return emulator.PolicyFunc(func(c *emulator.Client) (time.Duration, error) {
		grid, err := c.Read("grid_meter", registers.ACPower)
		if err != nil {
			return poll, nil
		}
		given = min(3600, max(-3600, given-grid))
		return poll, errors.Join(c.Write("south", registers.Setpoint, given), c.Write("south", registers.Mode, registers.ModeSetpoint),
			c.Write("north", registers.ChargeLimit, 0), c.Write("north", registers.DischargeLimit, 0))
	})
}

var _ = Describe("a trial of the controller itself", func() {
	// Each of these passes its story's like without the trial, so that it is the trial that fails it.
	DescribeTable("fails a controller that is wrong only then",
		func(story string, policy func() emulator.Policy, criterion string) {
			before := goleak.IgnoreCurrent()
			c := suites.Controller{Name: "wrong", Policy: policy}
			out, err := against(story, c)
			Expect(err).NotTo(HaveOccurred())
			Expect(out.Run.Error).To(BeNil())
			Expect(found(out, criterion).Status).To(Equal(verdict.Failed))
			Eventually(func() error { return goleak.Find(before) }).Should(Succeed())

			sc := *out.Scenario
			sc.Events = nil
			for _, e := range out.Scenario.Events {
				if e.Trial == nil && e.Device != "controller" {
					sc.Events = append(sc.Events, e)
				}
			}
			calm, err := suites.Play(GinkgoT().Context(), &sc, suites.Options{Pace: emulator.Stepped, Controller: c})
			Expect(err).NotTo(HaveOccurred())
			Expect(calm.Run.Passed).To(BeTrue(), "%+v", calm.Run.Criteria)
		},
		Entry("killed: its limits fit one load alone, and stay", "controller-killed", polling(tight), "import"),
		Entry("paused: likewise", "controller-paused", polling(tight), "import"),
		Entry("cut off: it gives up a device for good", "controller-cut-off", resigned, "import"),
		Entry("put back in time: it waits for its own future", "clock-jump", dayBound, "import"),
		Entry("twice there: each undoes what the other does", "second-copy", integrating, "hunting"),
	)

	It("fails a controller that comes late and then takes its time", func() {
		slow := func() emulator.Policy {
			begun := time.Duration(-1)
			return emulator.PolicyFunc(func(c *emulator.Client) (time.Duration, error) {
				if begun < 0 {
					begun = c.Now()
				}
				if c.Now()-begun < 5*time.Minute {
					return poll, nil
				}
				return poll, tight(c)
			})
		}
		out, err := against("controller-late", suites.Controller{Name: "slow to begin", Policy: slow})
		Expect(err).NotTo(HaveOccurred())
		Expect(found(out, "circulating").Status).To(Equal(verdict.Failed))
	})

	It("says so where it is not applicable", func() {
		out, err := against("clock-jump", suites.Controller{Name: "tight", Policy: polling(tight)})
		Expect(err).NotTo(HaveOccurred())
		Expect(out.Run.Passed).To(BeTrue())
		Expect(out.Run.Wire.Notes).To(ContainElement("a jump of the clock: not applicable, since the controller does not take the time of day from the bench clock"))
		out, err = against("controller-killed", suites.Controller{Name: "south stopped", Serve: serveSouth})
		Expect(err).NotTo(HaveOccurred())
		Expect(out.Run.Wire.Notes).To(ContainElement("at 8m0s: controller: kill: not applicable, since the bench has not started the controller"))
	})

	It("gives the same trace, verdict and traffic each time", func() {
		for _, story := range []string{"controller-killed", "controller-paused", "controller-cut-off", "second-copy"} {
			first, err := against(story, suites.Controller{Name: "tight", Policy: polling(tight)})
			Expect(err).NotTo(HaveOccurred())
			second, err := against(story, suites.Controller{Name: "tight", Policy: polling(tight)})
			Expect(err).NotTo(HaveOccurred())
			Expect(second.Run).To(Equal(first.Run))
		}
	})
})

package suites_test

import (
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator"
	"kilter/emulator/registers"
	"kilter/physics"
	"kilter/scenarios"
	"kilter/suites"
	"kilter/suites/verdict"
)

// neverQuiet is a story in which some load changes every few seconds to the very end, so that it has no quiet time.
func neverQuiet(sc *scenarios.Scenario) {
	sc.Lasts = 30 * time.Minute
	sc.Must = scenarios.Must{Hunting: &scenarios.Hunting{BelowW: 150, GoneWithin: 2 * time.Minute}}
	d, _ := sc.Site.Find("base")
	sc.Events = nil
	for i := range 180 {
		// In an order that repeats only every 450 s, so that no tone stands out.
		w := 1500 + 120*float64(i*41%9)
		sc.Events = append(sc.Events, scenarios.Event{
			At: time.Duration(i)*10*time.Second + time.Duration(i*37%50)*100*time.Millisecond, Device: "base",
			Action: physics.SetLoad{Load: d.Index, PowerW: w}, Text: "a little more or less",
		})
	}
}

// trimming is a controller that steers south by set points: each five seconds it moves them by so much of what the grid
// meter says, while north rests.
func trimming(gain float64) func() emulator.Policy {
	return func() emulator.Policy {
		want := 0.0
		return emulator.PolicyFunc(func(c *emulator.Client) (time.Duration, error) {
			if c.Now() == 0 {
				for _, s := range []registers.Signal{registers.ChargeLimit, registers.DischargeLimit} {
					if err := c.Write("north", s, 0); err != nil {
						return 0, err
					}
				}
				if err := c.Write("south", registers.Mode, registers.ModeSetpoint); err != nil {
					return 0, err
				}
			}
			grid, err := c.Read("grid_meter", registers.ACPower)
			if err != nil {
				return 0, err
			}
			want = min(max(want-gain*grid, -3000), 3000)
			return 5 * time.Second, c.Write("south", registers.Setpoint, want)
		})
	}
}

var _ = Describe("hunting that a story leaves open", func() {
	trim := func(gain float64) *suites.Outcome {
		GinkgoHelper()
		sc, err := scenarios.Builtin("calm-start")
		Expect(err).NotTo(HaveOccurred())
		neverQuiet(sc)
		out, err := suites.Play(GinkgoT().Context(), sc, suites.Options{
			Pace: emulator.Stepped, Controller: suites.Controller{Name: "trim", Policy: trimming(gain)},
		})
		Expect(err).NotTo(HaveOccurred())
		Expect(out.Run.Error).To(BeNil())
		return out
	}

	It("is decided by a second run with the loads held: one that rings down passes", func() {
		c := found(trim(0.5), "hunting")
		Expect(c.Status).To(Equal(verdict.Passed), c.Detail)
		Expect(c.Detail).To(ContainSubstring("decided by a second run from the start, in which loads and sky were held from"))
	})

	It("and one that goes on by itself fails, where it was suspected", func() {
		out := trim(2.1)
		c := found(out, "hunting")
		Expect(c.Status).To(Equal(verdict.Failed), c.Detail)
		Expect(c.Detail).To(ContainSubstring("decided by a second run"))
		at, _ := c.AtS.Value()
		Expect(at).To(BeNumerically("<", 1800), "a time of the run whose trace is kept")
		observed, _ := c.Observed.Value()
		Expect(observed).To(BeNumerically(">", 150))
		Expect(c.Cause.Commands).NotTo(BeEmpty())
	})

	It("is the same whenever it is played", func() {
		Expect(trim(2.1).Run).To(Equal(trim(2.1).Run))
	})

	It("stays open in real time, where no run is like another", func() {
		sc, err := scenarios.Builtin("calm-start")
		Expect(err).NotTo(HaveOccurred())
		neverQuiet(sc)
		sc.Lasts, sc.Events = 4*time.Minute, sc.Events[:22]
		out, err := suites.Play(GinkgoT().Context(), sc, suites.Options{
			Pace: 100, Controller: suites.Controller{Name: "trim", Policy: trimming(0.5)},
		})
		Expect(err).NotTo(HaveOccurred())
		Expect(found(out, "hunting").Status).To(Equal(verdict.Undetermined))
	})
})

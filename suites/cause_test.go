package suites_test

import (
	"os"
	"path/filepath"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator"
	"kilter/emulator/registers"
	"kilter/scenarios"
	"kilter/suites"
	"kilter/suites/verdict"
)

// polled plays a built-in story against a policy that is polled each ten seconds.
func polled(name string, poll func(c *emulator.Client) error, change ...func(*scenarios.Scenario)) *suites.Outcome {
	GinkgoHelper()
	sc, err := scenarios.Builtin(name)
	Expect(err).NotTo(HaveOccurred())
	for _, f := range change {
		f(sc)
	}
	out, err := suites.Play(GinkgoT().Context(), sc, suites.Options{
		Pace: emulator.Stepped, Reproduce: "again",
		Controller: suites.Controller{Name: "test", Policy: func() emulator.Policy {
			return emulator.PolicyFunc(func(c *emulator.Client) (time.Duration, error) { return 10 * time.Second, poll(c) })
		}},
	})
	Expect(err).NotTo(HaveOccurred())
	Expect(out.Run.Error).To(BeNil())
	return out
}

// pumping reads the grid meter, and from five minutes on has north charge from south.
func pumping(c *emulator.Client) error {
	if _, err := c.Read("grid_meter", registers.ACPower); err != nil {
		return err
	}
	if _, err := c.Read("south", registers.SOC); err != nil || c.Now() < 5*time.Minute {
		return err
	}
	if err := c.Write("north", registers.DischargeLimit, -2000); err != nil {
		return err
	}
	return c.Write("south", registers.ChargeLimit, 0)
}

var _ = Describe("a failure", func() {
	It("tells the commands before it, what the controller had read, and what was true", func() {
		out := polled("left-alone", pumping)
		c := found(out, "circulating")
		Expect(c.Status).To(Equal(verdict.Failed))
		Expect(*c.Avoidable).To(BeTrue())
		cause := c.Cause
		at, _ := cause.AtS.Value()
		Expect(at).To(BeNumerically("~", 301, 3), "north begins to charge when it is told to, after its dead time")
		first, _ := c.FirstS.Value()
		Expect(at).To(Equal(first))
		found, _ := cause.FoundS.Value()
		Expect(found).To(BeNumerically("~", at+30, 1.1), "30 s are allowed, and the bench looks once a second")

		Expect(cause.Commands).NotTo(BeEmpty())
		Expect(cause.Commands[0]).To(Equal(verdict.CommandGiven{
			AtS: verdict.Seconds(300), Device: "north", Signal: "discharge_limit", Value: verdict.Of(-2000), Unit: "W",
		}))
		var grid, soc []verdict.ValueRead
		for _, r := range cause.Reads {
			switch r.Device + " " + r.Signal {
			case "grid_meter ac_power":
				grid = append(grid, r)
			case "south soc":
				soc = append(soc, r)
			}
		}
		Expect(grid).To(HaveLen(2), "the last before it broke, and the last before it was found")
		Expect(grid[0].AtS).To(Equal(verdict.Seconds(300)))
		told, _ := grid[0].Told.Value()
		truth, _ := grid[0].True.Value()
		Expect(told).To(BeNumerically("~", truth, 30), "noise of 3 W, and 200 ms late")
		Expect(soc[0].Unit).To(Equal("%"))
		Expect(cause.Truth).To(ContainElement(HaveField("Name", "north_w")))
	})

	It("reads as a text with the five parts, whether it was avoidable, and its cause", func() {
		c := found(polled("left-alone", pumping), "circulating")
		Expect(c.Explain()).To(MatchRegexp(`^criterion  circulating failed: .*\nat         .*\nobserved   .* kW\nlimit      at most 120 W, except up to 30 s\nlook at    .*circulating_w$`))
		Expect(c.Because()).To(And(
			HavePrefix("avoidable  yes: the batteries could have prevented it\ndid        "),
			MatchRegexp(`north at 0:05:\d\d: discharge_limit -2 kW`),
			MatchRegexp(`had read   grid_meter at 0:05:00: ac_power .* W, truly .* W`),
			MatchRegexp(`true then  grid_w .*north_w`)))
	})

	It("is told with each clause, its formula and the further figures, and reads back", func() {
		energy := 1.0
		out := polled("left-alone", pumping, func(sc *scenarios.Scenario) {
			sc.Must.Circulating.BelowW, sc.Must.Circulating.EnergyWh = 5000, &energy
		})
		c := found(out, "circulating")
		Expect(c.Status).To(Equal(verdict.Failed))
		Expect(c.Decides).To(Equal("energy"))
		Expect(c.Title()).To(Equal("circulating (energy)"))
		Expect(c.Unit).To(Equal("Wh"))
		Expect(c.Formula).To(HavePrefix("energy - sum over time"))
		Expect(c.Allowance).To(BeEmpty(), "an energy has no exception")
		Expect(c.TraceLimit.Known()).To(BeFalse(), "nor is it a level in the trace")
		Expect(c.Clauses).To(HaveLen(2))
		Expect(c.Clauses[0].Status).To(Equal(verdict.Passed))
		Expect(c.Clauses[0].Unit).To(Equal("W"))
		Expect(c.Figures).To(ContainElement(HaveField("Name", "longest_episode")))
	})

	It("has a lower limit where more is better", func() {
		out := polled("calm-start", func(c *emulator.Client) error {
			if err := c.Write("south", registers.ChargeLimit, 3600); err != nil {
				return err
			}
			return c.Write("south", registers.ChargeLimit, 3600)
		}, func(sc *scenarios.Scenario) { sc.Must.CommandEconomy = &scenarios.CommandEconomy{Gap: 2 * time.Second} })
		c := found(out, "command_economy")
		Expect(c.Status).To(Equal(verdict.Failed))
		Expect(c.LimitText()).To(Equal("at least 2 s"))
		margin, _ := c.Margin.Value()
		Expect(margin).To(Equal(-2.0))
		Expect(c.Bound).To(Equal(verdict.AtLeast))
	})

	It("has a cause of bounded length, however much was commanded and read", func() {
		// Eight commands before and eight after; two reads of each of six devices with three values at most.
		out := polled("left-alone", pumping)
		Expect(len(found(out, "circulating").Cause.Commands)).To(BeNumerically("<=", 16))
		Expect(len(found(out, "circulating").Cause.Reads)).To(BeNumerically("<=", 2*3*6))
	})
})

var _ = Describe("a command in the account of a failure", func() {
	It("is told by its word where it is one of several", func() {
		out := polled("left-alone", func(c *emulator.Client) error {
			if err := c.Write("south", registers.Mode, registers.ModeSetpoint); err != nil {
				return err
			}
			return c.Write("south", registers.Setpoint, 2000)
		})
		c := found(out, "circulating")
		Expect(c.Status).To(Equal(verdict.Failed))
		Expect(c.Cause.Commands).To(ContainElement(And(HaveField("Signal", "mode"), HaveField("Word", "setpoint"))))
		Expect(c.Because()).To(ContainSubstring(": mode setpoint\n"))

		folder := GinkgoT().TempDir()
		Expect(suites.WriteFolder(folder, out)).To(Succeed())
		page, err := os.ReadFile(filepath.Join(folder, "report.html"))
		Expect(err).NotTo(HaveOccurred())
		Expect(string(page)).To(MatchRegexp(`>south mode \(\d+ writes?\)</text>`))
		Expect(string(page)).To(ContainSubstring(">setpoint</text>"), "in the plot of the commands")
	})
})

package suites_test

import (
	"errors"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator"
	"kilter/emulator/registers"
	"kilter/scenarios"
	"kilter/suites"
)

var _ = Describe("the matchers of a played scenario", func() {
	steady := suites.Controller{Name: "south stopped", Policy: stopSouth}
	played := func(name string, c suites.Controller, change ...func(*suites.Options)) *suites.Outcome {
		GinkgoHelper()
		run, err := suites.Against(GinkgoT().Context(), name, c, change...)
		Expect(err).NotTo(HaveOccurred())
		return run
	}

	It("judge by limits of their own, stated by the scenario or not", func() {
		run := played("calm-start", steady)
		Expect(run).To(And(
			suites.SettleWithin(time.Minute, 200), suites.NotHunt(150, 2*time.Minute),
			suites.KeepImportBelow(1000).Except(30*time.Second), suites.KeepExportBelow(1000).Except(30*time.Second),
			suites.NotCirculateAbove(120), suites.KeepSOCWithin(0.08).From(time.Minute),
			suites.CycleAtMost(2), suites.WriteAtMost(1000), suites.KeepItsManners(),
			suites.WasteNoMoreExportThan(500)))
		loaded := played("fuse-night", steady)
		Expect(loaded).NotTo(suites.KeepCurrentBelow(20))
		Expect(loaded).NotTo(suites.SpareTheFuse(0.01))
		Expect(run).NotTo(suites.SettleWithin(time.Second, 1))
		Expect(run).NotTo(suites.WriteAtMost(10))
		Expect(run).NotTo(suites.KeepSOCWithin(0.001))
		Expect(run).NotTo(suites.KeepImportBelow(1e-3))
		Expect(run).NotTo(suites.WasteNoMoreImportThan(1))
	})

	It("agree with the verdict of a scenario that states the same", func() {
		run := alone("calm-start")
		Expect(run).NotTo(suites.NotCirculateAbove(120).Except(30 * time.Second))
		m := suites.NotCirculateAbove(120).Except(30 * time.Second)
		ok, err := m.Match(run)
		Expect(err).NotTo(HaveOccurred())
		Expect(ok).To(BeFalse())
		Expect(m.FailureMessage(run)).To(ContainSubstring(found(run, "circulating").Explain()))
	})

	It("tell a failure in five parts, with what was wanted and how to see it again", func() {
		run := alone("left-alone")
		m := suites.NotCirculateAbove(120).Except(30 * time.Second)
		_, err := m.Match(run)
		Expect(err).NotTo(HaveOccurred())
		Expect(m.FailureMessage(run)).To(MatchRegexp(`^none was to not circulate more than 120 W, except up to 30 s in left-alone, seed 11
criterion  circulating failed: .*
at         .*
observed   .* kW
limit      at most 120 W, except up to 30 s
look at    .*
avoidable  yes: (.|\n)*
reproduce  kilter check left-alone --policy none$`))
	})

	It("tell where something held against expectation, and how a run in this process is seen again", func() {
		run := played("calm-start", steady)
		m := suites.SettleWithin(time.Minute, 200)
		Expect(m.Match(run)).To(BeTrue())
		Expect(m.NegatedFailureMessage(run)).To(MatchRegexp(`^south stopped was not to settle within 1 min to 200 W in calm-start, seed 1, and did, with a margin of [0-9.]+ s
reproduce  run this spec again: equal runs in stepped pace are the same bit for bit$`))
	})

	It("judge charging by a window, and a controller's death and return", func() {
		run := played("calm-start", suites.Controller{Name: "charging", Policy: func() emulator.Policy {
			return emulator.PolicyFunc(func(*emulator.Client) (time.Duration, error) { return time.Minute, nil })
		}})
		Expect(run).NotTo(suites.ChargeTo(0.9, 0, 0, 10*time.Minute))
		// It forces south to charge and says no more, so that the charging outlives it.
		killed := played("killed-charging", suites.Controller{Name: "reckless", Policy: func() emulator.Policy {
			return emulator.PolicyFunc(func(c *emulator.Client) (time.Duration, error) {
				return 5 * time.Second, errors.Join(c.Write("south", registers.Mode, registers.ModeHold), c.Write("north", registers.DischargeLimit, -2000))
			})
		}})
		Expect(killed).NotTo(suites.FailSafeWithin(time.Minute, 100))
	})

	It("are errors, and neither true nor false, where there was nothing to judge", func() {
		quiet, err := scenarios.Builtin("left-alone")
		Expect(err).NotTo(HaveOccurred())
		run, err := suites.Play(GinkgoT().Context(), quiet, suites.Options{Controller: suites.Controller{Name: "none"}})
		Expect(err).NotTo(HaveOccurred())
		_, err = suites.SettleWithin(time.Minute, 200).Match(run)
		Expect(err).To(MatchError(ContainSubstring("left-alone: settle was not exercised")))
		_, err = suites.RecoverWithin(time.Minute, 200).Match(run)
		Expect(err).To(MatchError(ContainSubstring("recovery was not exercised")))
		_, err = suites.NotHunt(150, time.Minute).Match("a run")
		Expect(err).To(MatchError("to not hunt above 150 W for longer than 1 min is asked of a *suites.Outcome, as Play and Against return it; found string"))
		died := played("calm-start", suites.Controller{Name: "dying", Policy: func() emulator.Policy {
			return emulator.PolicyFunc(func(*emulator.Client) (time.Duration, error) { panic("no") })
		}})
		_, err = suites.KeepImportBelow(1000).Match(died)
		Expect(err).To(MatchError(ContainSubstring("calm-start could not be judged to its end: ")))
	})

	It("judge what a sick link and lapsed commands have left, too", func() {
		run := played("link-silent", suites.Controller{Name: "restless", Policy: restless(2)})
		for range 2 { // an outcome can be judged as often as it takes
			Expect(run).NotTo(suites.KeepItsManners())
		}
	})
})

package suites_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"strings"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator"
	"kilter/scenarios"
	"kilter/suites"
	"kilter/suites/criteria"
	"kilter/suites/shrink"
)

// badDay is two hours with twenty events at random, in which the inverters are left alone.
func badDay(seed uint64) *scenarios.Scenario {
	GinkgoHelper()
	chance := rand.New(rand.NewPCG(seed, 20))
	var events strings.Builder
	for i := range 20 {
		at := 2 + 5*i + chance.IntN(4)
		what := [...]string{
			fmt.Sprintf("base: {power: %d W}", 300+100*chance.IntN(40)),
			fmt.Sprintf("oven: {switch: %s}", [...]string{"on", "off"}[chance.IntN(2)]),
			fmt.Sprintf("sky: {cloud: {depth: %d %%, edge: 4 s, lasts: 90 s}}", 40+chance.IntN(50)),
			fmt.Sprintf("van_charger: {plug_in: %d A}", 6+chance.IntN(11)),
			fmt.Sprintf("mixer: {switch: %s}", [...]string{"on", "off"}[chance.IntN(2)]),
			fmt.Sprintf("south: {trip: %d s}", 30+chance.IntN(300)),
		}[chance.IntN(6)]
		fmt.Fprintf(&events, "  - {at: %d min, %s}\n", at, what)
	}
	limit := [...]string{
		"circulating: {below: 120 W, except: 30 s}",
		"import: {below: 11 kW}",
		"settle: {band: 200 W, within: 20 s}",
	}[seed%3]
	sc, err := scenarios.ParseScenario("bad-day.yaml", fmt.Appendf(nil, `format: 1
scenario: A bad day
site: bakery
starts: 2026-06-18 10:00
zone: Europe/Oslo
lasts: 2 h
seed: %d
happens:
%smust:
  %s
`, seed, events.String(), limit))
	Expect(err).NotTo(HaveOccurred())
	return sc
}

// fails judges by the one criterion that a bad day has.
func fails(ctx context.Context, sc *scenarios.Scenario) (shrink.Failure, error) {
	out, err := suites.Play(ctx, sc, suites.Options{Pace: emulator.Stepped, Controller: suites.Controller{Name: "none"}})
	if err != nil {
		return shrink.Failure{}, err
	}
	r := out.Results[0]
	return shrink.Failure{Failed: r.Status == criteria.Failed, At: time.Duration(r.FirstBreachS * float64(time.Second))}, nil
}

var _ = Describe("a bad day of two hours and twenty events", func() {
	It("is shrunk to three events and ten minutes at most, fails on the same criterion when it is read again, and the same way each time", func() {
		ctx := GinkgoT().Context()
		shrunk := 0
		for seed := uint64(1); shrunk < 10; seed++ {
			Expect(seed).To(BeNumerically("<", 40))
			sc := badDay(seed)
			if f, err := fails(ctx, sc); err != nil || !f.Failed {
				Expect(err).NotTo(HaveOccurred())
				continue
			}
			shrunk++
			small, runs, err := shrink.Scenario(ctx, sc, fails, shrink.Options{})
			Expect(err).NotTo(HaveOccurred())
			text, err := small.Resolve()
			Expect(err).NotTo(HaveOccurred())
			AddReportEntry(fmt.Sprintf("day %d: %d events, %v, after %d runs", seed, len(small.Events), small.Lasts, runs))
			Expect(len(small.Events)).To(BeNumerically("<=", 3), "%s", text)
			Expect(small.Lasts).To(BeNumerically("<=", 10*time.Minute), "%s", text)
			again, err := scenarios.ParseScenario("again.yaml", text)
			Expect(err).NotTo(HaveOccurred())
			Expect(fails(ctx, again)).To(HaveField("Failed", true))
			if shrunk == 1 {
				twin, _, err := shrink.Scenario(ctx, sc, fails, shrink.Options{})
				Expect(err).NotTo(HaveOccurred())
				Expect(twin.Resolve()).To(Equal(text))
			}
		}
	})

	It("that passes is not shrunk, and neither is one that cannot be played", func() {
		calm, err := scenarios.Builtin("calm-start")
		Expect(err).NotTo(HaveOccurred())
		_, _, err = shrink.Scenario(GinkgoT().Context(), calm, func(context.Context, *scenarios.Scenario) (shrink.Failure, error) {
			return shrink.Failure{}, nil
		}, shrink.Options{})
		Expect(err).To(MatchError(shrink.ErrPasses))
		ctx, cancel := context.WithCancel(GinkgoT().Context())
		cancel()
		_, _, err = shrink.Scenario(ctx, badDay(3), fails, shrink.Options{})
		Expect(err).To(MatchError(context.Canceled))
	})
})

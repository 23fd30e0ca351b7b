package main

import (
	"context"
	"os"
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/cmd/steady/control"
	"kilter/emulator"
	"kilter/scenarios"
	"kilter/suites"
)

// asController makes this test binary run as steady, so that the bench can start it as the process that it is.
const asController = "KILTER_TEST_AS_STEADY"

func TestMain(m *testing.M) {
	if os.Getenv(asController) != "" {
		os.Exit(control.Main(os.Args[1:], os.Stderr))
	}
	os.Exit(m.Run())
}

func TestSteady(t *testing.T) {
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	t.Setenv(asController, "1")
	RegisterFailHandler(Fail)
	var cases []suites.Case
	for _, name := range scenarios.BuiltinNames() {
		sc, err := scenarios.Builtin(name)
		if err != nil {
			t.Fatal(err)
		}
		cases = append(cases, suites.Case{Scenario: sc, Play: func(ctx context.Context) (*suites.Outcome, error) {
			return suites.Play(ctx, sc, suites.Options{
				Pace: emulator.Stepped, Controller: suites.Controller{Name: "steady", Command: []string{self}},
				Reproduce: "kilter check " + sc.Name + " --policy steady", Log: GinkgoWriter,
			})
		}})
	}
	// What a story does not exercise is no failure of steady's.
	suites.Accept(false, cases...)
	suite, reporter := GinkgoConfiguration()
	reporter.SilenceSkips = true
	RunSpecs(t, "steady against every built-in story", suite, reporter)
}

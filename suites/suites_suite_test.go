package suites_test

import (
	"context"
	"os"
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/scenarios"
	"kilter/suites"
)

// TestMain lets this test binary run as a controller, so that a run starts it as the process that it is.
func TestMain(m *testing.M) {
	if len(os.Args) > 1 && os.Args[1] == "poller" {
		if err := poller(os.Args[2:]); err != nil {
			panic(err)
		}
		return
	}
	os.Exit(m.Run())
}

func TestSuites(t *testing.T) {
	RegisterFailHandler(Fail)
	RunSpecs(t, "suites")
}

// alone plays a built-in story with the inverters left alone.
func alone(name string, change ...func(*scenarios.Scenario)) *suites.Outcome {
	GinkgoHelper()
	sc, err := scenarios.Builtin(name)
	Expect(err).NotTo(HaveOccurred())
	for _, c := range change {
		c(sc)
	}
	out, err := suites.Play(context.Background(), sc, suites.Options{
		Controller: suites.Controller{Name: "none"}, Reproduce: "kilter check " + name + " --policy none",
	})
	Expect(err).NotTo(HaveOccurred())
	return out
}

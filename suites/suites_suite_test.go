package suites_test

import (
	"context"
	"testing"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/scenarios"
	"kilter/suites"
)

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

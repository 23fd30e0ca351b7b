package emulator_test

import (
	"testing"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator"
	"kilter/scenarios"
)

func TestEmulator(t *testing.T) {
	RegisterFailHandler(Fail)
	RunSpecs(t, "emulator")
}

// story loads a built-in scenario.
func story(name string) *scenarios.Scenario {
	GinkgoHelper()
	sc, err := scenarios.Builtin(name)
	Expect(err).NotTo(HaveOccurred())
	return sc
}

// open makes a bench that is closed with the spec.
func open(sc *scenarios.Scenario, opt emulator.Options) *emulator.Bench {
	GinkgoHelper()
	b, err := emulator.New(sc, opt)
	Expect(err).NotTo(HaveOccurred())
	DeferCleanup(b.Close)
	return b
}

// called returns the file's entry of one device.
func called(b *emulator.Bench, name string) emulator.FileDevice {
	GinkgoHelper()
	return deviceOf(b.File(), name)
}

func deviceOf(f emulator.File, name string) emulator.FileDevice {
	GinkgoHelper()
	for _, d := range f.Devices {
		if d.Name == name {
			return d
		}
	}
	Fail("no device called " + name)
	return emulator.FileDevice{}
}

// soon is how long a test waits on the wall clock for what takes microseconds.
const soon = 10 * time.Second

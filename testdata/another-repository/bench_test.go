package mine_test

import (
	"testing"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"example.com/mine"

	"kilter/emulator"
	. "kilter/suites"
)

func TestOnTheBench(t *testing.T) {
	RegisterFailHandler(Fail)
	RunSpecs(t, "mine, on the bench")
}

// controller is made anew for each play.
var controller = Controller{Name: "mine", Policy: func() emulator.Policy { return mine.NewPolicy() }}

// A built-in story that it must pass, criterion by criterion.
var _ = Accept(false, Stories(controller, "calm-start")...)

var _ = Describe("the day on which the deck oven starts late", Ordered, func() {
	var run *Outcome
	BeforeAll(func(ctx SpecContext) {
		var err error
		run, err = Against(ctx, "scenarios/late-oven.yaml", controller)
		Expect(err).NotTo(HaveOccurred())
	})

	It("settles after the mixer", func() { Expect(run).To(SettleWithin(60*time.Second, 300)) })
	It("does not hunt", func() { Expect(run).To(NotHunt(150, 2*time.Minute)) })
	It("keeps the batteries from charging one another", func() {
		Expect(run).To(NotCirculateAbove(120).Except(30 * time.Second))
	})
	It("keeps the batteries in step", func() { Expect(run).To(KeepSOCWithin(0.08)) })
	It("keeps its manners", func() { Expect(run).To(And(KeepItsManners(), WriteAtMost(2000))) })
})

package emulator_test

import (
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator"
	"kilter/scenarios"
)

// tardy takes long, on the wall clock, to return from each deed: longer than the controller takes to its next wait.
type tardy struct {
	*emulator.Performers
	bench *emulator.Bench
	moved []time.Duration // by how much time moved during each deed
}

func (t *tardy) Do(deed scenarios.Deed) error {
	at := t.bench.Now()
	err := t.Performers.Do(deed)
	time.Sleep(30 * time.Millisecond)
	t.moved = append(t.moved, t.bench.Now()-at)
	return err
}

var _ = Describe("a trial of the controller", func() {
	DescribeTable("lets no time pass until it is done, however soon the controller waits",
		func(name string, deeds, starts int) {
			const poll = 10 * time.Second
			sc := story(name)
			var polls [][]time.Duration
			keep := &tardy{Performers: emulator.NewPerformers(func() emulator.Policy {
				me := len(polls)
				polls = append(polls, nil)
				return emulator.PolicyFunc(func(c *emulator.Client) (time.Duration, error) {
					polls[me] = append(polls[me], c.Now())
					return poll, nil
				})
			})}
			var seen []emulator.Presence
			b := open(sc, emulator.Options{Pace: emulator.Stepped, Inside: true, Expect: true, Controllers: keep,
				Observe: []func(*emulator.Tick){func(t *emulator.Tick) { seen = append(seen, t.Controller) }}})
			keep.bench = b
			Expect(keep.Open(b)).To(Succeed())
			Eventually(play(b, keep.Gone()), soon).Should(Receive(BeNil()))
			Expect(keep.Close(soon, 0)).To(Succeed())

			Expect(keep.moved).To(HaveLen(deeds))
			Expect(keep.moved).To(HaveEach(time.Duration(0)))
			Expect(polls).To(HaveLen(starts))
			for _, of := range polls {
				for i, at := range of {
					Expect(at).To(Equal(of[0] + time.Duration(i)*poll))
				}
				Expect(len(of)).To(BeNumerically(">", 5))
			}
			Expect(seen).NotTo(ContainElement(emulator.Started), "it polls in the instant in which it starts")
		},
		Entry("killed, and started again", "controller-killed", 2, 2),
		Entry("started late", "controller-late", 1, 1),
		Entry("joined by a second copy", "second-copy", 2, 2),
	)
})

package suites_test

import (
	"context"
	"errors"
	"fmt"
	"sync/atomic"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/suites"
	"kilter/suites/verdict"
)

var _ = Describe("cases that are played ahead", func() {
	// ten makes cases whose outcome says which they are.
	ten := func(play func(i int) error) []suites.Case {
		cases := make([]suites.Case, 10)
		for i := range cases {
			cases[i].Play = func(context.Context) (*suites.Outcome, error) {
				return &suites.Outcome{Run: verdict.Run{Seed: uint64(i)}}, play(i)
			}
		}
		return cases
	}

	It("are at play so many at a time, and come in their order", func(ctx SpecContext) {
		var now, most atomic.Int64
		meet := make(chan struct{})
		cases, wait := suites.Ahead(ctx, 3, ten(func(i int) error {
			n := now.Add(1)
			defer now.Add(-1)
			for m := most.Load(); n > m && !most.CompareAndSwap(m, n); m = most.Load() {
			}
			if i < 3 { // the first three meet: none is done before the others have begun
				if n == 3 {
					close(meet)
				}
				<-meet
			}
			return nil
		}))
		for i, c := range cases {
			out, err := c.Play(ctx)
			Expect(err).NotTo(HaveOccurred())
			Expect(out.Run.Seed).To(Equal(uint64(i)))
		}
		wait()
		Expect(most.Load()).To(Equal(int64(3)))
	})

	It("hand on an error and a panic to who asks", func(ctx SpecContext) {
		cases, wait := suites.Ahead(ctx, 2, ten(func(i int) error {
			if i == 4 {
				panic("no plant")
			}
			return fmt.Errorf("case %d", i)
		}))
		_, err := cases[3].Play(ctx)
		Expect(err).To(MatchError("case 3"))
		Expect(func() { cases[4].Play(ctx) }).To(PanicWith(ContainSubstring("no plant")))
		wait()
	})

	It("stop with their context, and leave nothing at play", func() {
		ctx, cancel := context.WithCancel(context.Background())
		begun := make(chan struct{}, 10)
		cases, wait := suites.Ahead(ctx, 1, ten(func(int) error {
			begun <- struct{}{}
			<-ctx.Done()
			return errors.New("interrupted")
		}))
		<-begun
		cancel()
		_, err := cases[9].Play(ctx)
		Expect(err).To(MatchError(context.Canceled))
		wait()
		Expect(begun).To(BeEmpty(), "no other was begun")
	})
})

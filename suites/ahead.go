package suites

import (
	"context"
	"fmt"
	"runtime/debug"
	"sync"
	"sync/atomic"
)

// Ahead plays cases in parallel, so many at a time and in their order, before the suite asks for them. The suite still
// sees them in their order, so that what it tells does not depend on which was done first. What a case keeps of its
// outcome stays in memory until the suite has seen it. wait returns when no case is at play any more: after the suite,
// or after ctx has ended.
func Ahead(ctx context.Context, jobs int, cases []Case) (ahead []Case, wait func()) {
	type played struct {
		out   *Outcome
		err   error
		panic any
	}
	ahead = make([]Case, len(cases))
	results := make([]chan played, len(cases))
	for i := range cases {
		results[i] = make(chan played, 1)
		ahead[i] = cases[i]
		ahead[i].Play = func(inner context.Context) (*Outcome, error) {
			select {
			case p := <-results[i]:
				if p.panic != nil {
					panic(p.panic)
				}
				return p.out, p.err
			case <-inner.Done():
				return nil, inner.Err()
			}
		}
	}
	play := func(i int) (p played) {
		defer func() {
			if r := recover(); r != nil {
				p.panic = fmt.Sprintf("%v\n%s", r, debug.Stack())
			}
		}()
		p.out, p.err = cases[i].Play(ctx)
		return p
	}
	var next atomic.Int64
	var working sync.WaitGroup
	for range max(1, jobs) {
		working.Go(func() {
			for i := next.Add(1) - 1; int(i) < len(cases) && ctx.Err() == nil; i = next.Add(1) - 1 {
				results[i] <- play(int(i))
			}
		})
	}
	return ahead, working.Wait
}

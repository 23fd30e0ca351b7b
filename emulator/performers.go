package emulator

import (
	"time"

	"kilter/scenarios"
)

// Performers are the policies of a controller in the bench's own process: what a Keeper is for processes.
type Performers struct {
	number        int
	policy        func() Policy
	bench         *Bench
	first, second *Performer
	gone          chan error
}

// NewPerformers is for a controller that starts with a new policy each time.
func NewPerformers(policy func() Policy) *Performers {
	return &Performers{policy: policy, gone: make(chan error, 1)}
}

// Numbered makes it the controller of that number among several, from 0.
func (k *Performers) Numbered(controller int) *Performers {
	k.number = controller
	return k
}

// Open starts the controller unless the scenario has it start late.
func (k *Performers) Open(b *Bench) error {
	k.bench = b
	if b.Scenario().StartsLate() {
		return nil
	}
	return k.Do(scenarios.Start)
}

// Do carries out a deed, and returns when it is done. A policy that is paused needs nothing done to it: it waits, and
// the bench answers no wait meanwhile.
func (k *Performers) Do(deed scenarios.Deed) error {
	switch deed {
	case scenarios.Start:
		k.first = k.bench.StartPolicy(k.policy(), k.number)
		go k.report(k.first)
	case scenarios.SecondCopy:
		k.second = k.bench.StartPolicy(k.policy(), secondCopy)
	case scenarios.Kill:
		k.end(&k.first)
		k.end(&k.second)
	case scenarios.CopyEnds:
		k.end(&k.second)
	}
	return nil
}

// report passes on the end of a policy that nobody has ended.
func (k *Performers) report(p *Performer) {
	tell(k.gone, <-p.gone, &p.condemned)
}

func (k *Performers) end(p **Performer) {
	if *p != nil {
		(*p).condemned.Store(true)
		(*p).Stop(endless)
		*p = nil
	}
}

// endless is longer than anybody would wait for a policy that never asks anything again.
const endless = time.Hour

// Gone yields the end of a policy that ended by itself.
func (k *Performers) Gone() <-chan error { return k.gone }

// Collect has nothing to take in: a policy prints where its author says.
func (k *Performers) Collect() {}

// Close ends all, giving them some time.
func (k *Performers) Close(leave, _ time.Duration) error {
	for _, p := range []*Performer{k.first, k.second} {
		if p != nil {
			p.condemned.Store(true)
			p.Stop(leave)
		}
	}
	return nil
}

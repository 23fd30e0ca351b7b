package emulator

import (
	"fmt"
	"sync/atomic"
	"time"
)

// Policy is a controller in the bench's own process. Poll reads what it wants to know, decides, writes its commands,
// and answers after how long it wants to be called again. It is called by one goroutine, and time stands still
// meanwhile in stepped pace, except for what a sick link costs. Equal policies give equal runs, if they ask nothing but
// the client for the time.
//
// A policy that is to start afresh is a new value. One that returns an error, or panics, has died.
type Policy interface {
	Poll(*Client) (next time.Duration, err error)
}

// PolicyFunc is a function as a Policy.
type PolicyFunc func(*Client) (next time.Duration, err error)

// Poll calls the function.
func (f PolicyFunc) Poll(c *Client) (time.Duration, error) { return f(c) }

// Performer is a policy at work on a bench.
type Performer struct {
	client    *Client
	gone      chan error    // how it ended, once
	over      chan struct{} // closed when it has ended
	condemned atomic.Bool   // its end is wanted, and no news
}

// StartPolicy lets a policy run the site as the controller of that number, from 0. The bench must run, or start to,
// for its first wait to end.
func (b *Bench) StartPolicy(policy Policy, controller int) *Performer {
	p := &Performer{client: b.Client(controller), gone: make(chan error, 1), over: make(chan struct{})}
	go func() {
		p.gone <- p.perform(policy)
		close(p.gone)
		close(p.over)
	}()
	return p
}

// Gone yields how the policy ended; nil where the bench or Stop ended it.
func (p *Performer) Gone() <-chan error { return p.gone }

// Stop ends the policy at its next request or wait, and says whether it has ended within so much time on the wall
// clock: nothing can end one that never asks anything again.
func (p *Performer) Stop(patience time.Duration) bool {
	p.client.Close()
	timer := time.NewTimer(patience)
	defer timer.Stop()
	select {
	case <-p.over:
		return true
	case <-timer.C:
		return false
	}
}

// perform polls until the policy or the bench ends.
func (p *Performer) perform(policy Policy) (err error) {
	defer p.client.Close()
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("a panic: %v", r)
		}
	}()
	for {
		next, err := policy.Poll(p.client)
		switch {
		case p.client.closed():
			return nil
		case err != nil:
			return err
		case next < time.Millisecond:
			return fmt.Errorf("a next poll after %v: must be 1 ms or longer", next)
		}
		if p.client.Wait(next) != nil {
			return nil
		}
	}
}

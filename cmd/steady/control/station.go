package control

import (
	"fmt"
	"time"
)

// The pauses after a lost link grow from the first to the last. They are
// simulated time, so that a fast bench is not flooded.
const (
	firstPause = 5 * time.Second
	lastPause  = 60 * time.Second
)

// backoff is the time for which something that failed is left alone. It grows with each failure in a row.
type backoff struct {
	lasts time.Duration
	until time.Duration
}

// fail begins the next pause.
func (p *backoff) fail(now time.Duration) {
	p.lasts = min(max(2*p.lasts, firstPause), lastPause)
	p.until = now + p.lasts
}

// station is one device on the wire: whether it answers, and when to try again.
type station struct {
	name string
	bus  Bus

	ready  bool // it was asked what must be known before the first poll
	misses int  // polls without data since the last good one
	retry  backoff
	silent bool // its silence was logged
}

// visit polls the device unless it is in a pause. connect runs first, and again
// after the link was lost. It tells whether there is fresh data.
func (s *station) visit(now time.Duration, log func(string), connect, poll func(Bus) error) bool {
	s.misses++
	if now < s.retry.until {
		return false
	}
	err := func() error {
		if !s.ready {
			if err := connect(s.bus); err != nil {
				return err
			}
			s.ready = true
		}
		return poll(s.bus)
	}()
	if err != nil {
		s.lost(now, err, log)
		return false
	}
	s.misses, s.retry = 0, backoff{}
	if s.silent {
		s.silent = false
		log(s.name + " answers again")
	}
	return true
}

// lost notes a failed request and sets the time of the next one.
func (s *station) lost(now time.Duration, err error, log func(string)) {
	if !IsRefusal(err) {
		s.ready = false
	}
	s.retry.fail(now)
	if !s.silent {
		s.silent = true
		log(fmt.Sprintf("%s does not answer: %v", s.name, err))
	}
}

package campaign

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"kilter/suites/queue"
	"kilter/suites/verdict"
)

const (
	// quietAfter is how long to wait for a result before looking whether any can come.
	quietAfter = 5 * time.Second
	// resubmitAfter is after how many of these what has no result is submitted again.
	resubmitAfter = 6
)

// next waits for results that are new. It returns none where none has come for a while.
func (s *Session) next(ctx context.Context) (came []queue.Result, err error) {
	s.mutex.Lock()
	defer s.mutex.Unlock()
	s.awhile(func() bool { return len(s.news) > 0 || ctx.Err() != nil || s.err != nil })
	switch {
	case len(s.news) > 0:
	case ctx.Err() != nil:
		return nil, ctx.Err()
	default:
		return nil, s.err
	}
	for _, key := range s.news {
		came = append(came, s.results[key])
	}
	s.news = nil
	return came, nil
}

// tellMissing says so where nobody is there who can play what is waited for.
func (s *Session) tellMissing(b *batch) {
	if s.note == nil {
		return
	}
	present := s.present()
	told := map[string]bool{}
	for _, key := range b.keys {
		places := b.places[key]
		if places == nil {
			continue
		}
		need := Needs(&b.runs[places[0]].Controller)
		if told[need] || slices.ContainsFunc(present, func(p queue.Presence) bool { return p.Meets(need) }) {
			continue
		}
		told[need] = true
		s.note(fmt.Sprintf("nobody is there to play these runs; they need %s. Here: %s", need, offered(present)))
	}
}

// mostOffers is how many different offers are told.
const mostOffers = 5

// offered tells who is there instead.
func offered(present []queue.Presence) string {
	count := map[string]int{}
	var kinds []string
	for _, p := range present {
		kind := strings.Join(p.Offers[:min(len(p.Offers), mostOffers)], "; ")
		if count[kind]++; count[kind] == 1 {
			kinds = append(kinds, kind)
		}
	}
	if len(kinds) == 0 {
		return "no worker at all"
	}
	var parts []string
	for _, kind := range kinds[:min(len(kinds), mostOffers)] {
		parts = append(parts, fmt.Sprintf("%s for %.300q", verdict.Counted(count[kind], "worker"), kind))
	}
	return strings.Join(parts, ", ")
}

// awhile waits until there is something to see, or nothing has come for a while. The caller holds the mutex.
func (s *Session) awhile(seen func() bool) {
	quiet := false
	defer time.AfterFunc(quietAfter, func() { s.wake(func() { quiet = true }) }).Stop()
	for !quiet && !seen() {
		s.fresh.Wait()
	}
}

// wake has those who wait look again, at what change has changed.
func (s *Session) wake(change func()) {
	s.mutex.Lock()
	defer s.mutex.Unlock()
	if change != nil {
		change()
	}
	s.fresh.Broadcast()
}

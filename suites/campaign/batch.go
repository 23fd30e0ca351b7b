package campaign

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"unicode"

	"kilter/suites/queue"
)

// batch is runs that are waited for.
type batch struct {
	runs   []Run
	places map[string][]int // of each key that has no result yet: where it stands among the runs
	keys   []string         // of all runs, each once, in their order
	done   []*Result
	see    func(i int, r *Result)
}

// Do has runs played, and returns their results in the runs' order. Two runs that are the same are played once. See, if not
// nil, is called as each comes, with its place in the order, from this goroutine. Where the context ends first the
// error says so, and what has been played stays.
func (s *Session) Do(ctx context.Context, runs []Run, see func(i int, r *Result)) ([]*Result, error) {
	b, err := newBatch(runs, see)
	if err != nil {
		return nil, err
	}
	if err := s.known(b); err != nil {
		return nil, err
	}
	defer context.AfterFunc(ctx, func() { s.wake(nil) })()
	for quiet := 0; len(b.places) > 0; {
		if quiet%resubmitAfter == 0 {
			// Again where nothing comes: a server that lost its jobs, or a session of the same campaign that withdrew them, must not
			// leave this one waiting.
			if err := s.submit(ctx, b); err != nil {
				return nil, err
			}
		}
		came, err := s.next(ctx)
		switch {
		case err != nil:
			return nil, err
		case len(came) == 0:
			if quiet%resubmitAfter == 1 {
				s.tellMissing(b)
			}
			quiet++
		default:
			quiet = 1
		}
		for _, r := range came {
			if err := b.take(r); err != nil {
				return nil, err
			}
		}
	}
	return b.done, nil
}

func newBatch(runs []Run, see func(i int, r *Result)) (*batch, error) {
	b := &batch{runs: runs, places: map[string][]int{}, done: make([]*Result, len(runs)), see: see}
	for i := range runs {
		key, err := runs[i].Key()
		if err != nil {
			return nil, err
		}
		if b.places[key] = append(b.places[key], i); len(b.places[key]) == 1 {
			b.keys = append(b.keys, key)
		}
	}
	return b, nil
}

// atATime is for how many runs the queue's jobs are made at once: of a large campaign they would fill the memory.
const atATime = 512

// submit queues what has no result yet.
func (s *Session) submit(ctx context.Context, b *batch) error {
	b.keys = slices.DeleteFunc(b.keys, func(key string) bool { return b.places[key] == nil })
	for keys := range slices.Chunk(b.keys, atATime) {
		jobs := make([]queue.Job, len(keys))
		for i, key := range keys {
			run := &b.runs[b.places[key][0]]
			body, err := json.Marshal(run)
			if err != nil {
				return fmt.Errorf("campaign: %w", err)
			}
			jobs[i] = queue.Job{Key: key, Needs: Needs(&run.Controller), Body: body}
		}
		if err := s.queue.Submit(ctx, s.name, jobs); err != nil {
			return err
		}
	}
	return nil
}

// known takes what has been played before.
func (s *Session) known(b *batch) error {
	s.mutex.Lock()
	s.news = nil
	var there []queue.Result
	for _, key := range b.keys {
		if r, is := s.results[key]; is {
			there = append(there, r)
		}
	}
	s.mutex.Unlock()
	for _, r := range there {
		if err := b.take(r); err != nil {
			return err
		}
	}
	return nil
}

// take puts a result where its run stands. One of another batch goes by.
func (b *batch) take(r queue.Result) error {
	places := b.places[r.Key]
	if places == nil {
		return nil
	}
	result, err := read(r, b.runs[places[0]].Name)
	if err != nil {
		return err
	}
	for _, i := range places {
		b.done[i] = result
		if b.see != nil {
			b.see(i, result)
		}
	}
	delete(b.places, r.Key)
	return nil
}

// read is what a run of that name came to.
func read(r queue.Result, name string) (*Result, error) {
	if r.Error != "" {
		return nil, errors.New(name + ": " + printable(r.Error))
	}
	result := &Result{}
	if err := json.Unmarshal(r.Body, result); err != nil {
		return nil, fmt.Errorf("campaign: %s: a result that cannot be read: %w", name, err)
	}
	return result, nil
}

// printable keeps what a worker has sent from steering a terminal.
func printable(text string) string {
	return strings.Map(func(r rune) rune {
		if r == '\n' || unicode.IsPrint(r) {
			return r
		}
		return '?'
	}, text)
}

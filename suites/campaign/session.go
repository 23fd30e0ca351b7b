package campaign

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"sync"

	"kilter/suites/queue"
)

// Session hands the runs of one campaign to a queue, and gathers their results. Its methods are for one goroutine.
type Session struct {
	queue   *queue.Queue
	name    string
	stop    context.CancelFunc
	all     sync.WaitGroup
	present func() []queue.Presence

	mutex   sync.Mutex
	fresh   *sync.Cond
	results map[string]queue.Result // by key
	err     error                   // why no more results come
}

// Options tune a session.
type Options struct {
	// Slots is how many runs are played at once in this process; 0 leaves all to workers elsewhere.
	Slots int
	// Player plays them.
	Player *Player
}

// Open begins or resumes the campaign of that name: its results so far are read first.
func Open(ctx context.Context, q *queue.Queue, name string, opt Options) (*Session, error) {
	ctx, stop := context.WithCancel(ctx)
	s := &Session{queue: q, name: name, stop: stop, results: map[string]queue.Result{}}
	s.fresh = sync.NewCond(&s.mutex)
	var err error
	if s.present, err = q.Watch(ctx); err != nil {
		stop()
		return nil, err
	}
	s.all.Go(func() {
		s.end(q.Collect(ctx, name, endless, func(r queue.Result) bool {
			s.mutex.Lock()
			defer s.mutex.Unlock()
			s.results[r.Key] = r
			s.fresh.Broadcast()
			return true
		}))
	})
	if opt.Slots > 0 {
		s.all.Go(func() {
			if err := q.Work(ctx, queue.Worker{Offers: opt.Player.Offers(), Slots: opt.Slots, Run: opt.Player.Work}); err != nil {
				s.end(err)
			}
		})
	}
	context.AfterFunc(ctx, func() { s.end(context.Cause(ctx)) })
	if err := s.catchUp(ctx); err != nil {
		s.Close()
		return nil, err
	}
	return s, nil
}

// catchUp waits for the results that there are already.
func (s *Session) catchUp(ctx context.Context) error {
	done, err := s.queue.Done(ctx, s.name)
	if err != nil {
		return err
	}
	s.mutex.Lock()
	defer s.mutex.Unlock()
	for len(s.results) < done && s.err == nil {
		s.fresh.Wait()
	}
	return s.err
}

// Done is how many results the campaign has, of this session and of those before it.
func (s *Session) Done() int {
	s.mutex.Lock()
	defer s.mutex.Unlock()
	return len(s.results)
}

// Workers are those heard of within the last seconds, whatever they can play: here and elsewhere.
func (s *Session) Workers() []queue.Presence { return s.present() }

// endless is more results than any campaign has.
const endless = 1 << 62

func (s *Session) end(err error) {
	s.mutex.Lock()
	defer s.mutex.Unlock()
	if s.err == nil {
		s.err = err
	}
	s.fresh.Broadcast()
}

// Do has runs played, and returns their results in the runs' order. Two runs that are the same are played once. See, if not
// nil, is called as each comes, with its place in the order, from this goroutine. Where the context ends first the
// error says so, and what has been played stays.
func (s *Session) Do(ctx context.Context, runs []Run, see func(i int, r *Result)) ([]*Result, error) {
	keys := make([]string, len(runs))
	places := map[string][]int{}
	var jobs []queue.Job
	s.mutex.Lock()
	for i := range runs {
		key, err := runs[i].Key()
		if err != nil {
			s.mutex.Unlock()
			return nil, err
		}
		keys[i] = key
		places[key] = append(places[key], i)
		if _, done := s.results[key]; done || len(places[key]) > 1 {
			continue
		}
		body, err := json.Marshal(&runs[i])
		if err != nil {
			s.mutex.Unlock()
			return nil, fmt.Errorf("campaign: %w", err)
		}
		jobs = append(jobs, queue.Job{Key: key, Needs: Needs(&runs[i].Controller), Body: body})
	}
	s.mutex.Unlock()
	if err := s.queue.Submit(ctx, s.name, jobs); err != nil {
		return nil, err
	}
	done := make([]*Result, len(runs))
	waiting := len(places)
	defer context.AfterFunc(ctx, func() { s.fresh.Broadcast() })()
	for waiting > 0 {
		came, err := s.next(ctx, places)
		if err != nil {
			return nil, err
		}
		for _, r := range came {
			result, err := read(r, runs[places[r.Key][0]].Name)
			if err != nil {
				return nil, err
			}
			for _, i := range places[r.Key] {
				done[i] = result
				if see != nil {
					see(i, result)
				}
			}
			delete(places, r.Key)
			waiting--
		}
	}
	return done, nil
}

// next waits for results of those keys.
func (s *Session) next(ctx context.Context, keys map[string][]int) ([]queue.Result, error) {
	s.mutex.Lock()
	defer s.mutex.Unlock()
	for {
		var came []queue.Result
		for key := range keys {
			if r, is := s.results[key]; is {
				came = append(came, r)
			}
		}
		switch {
		case len(came) > 0:
			return came, nil
		case ctx.Err() != nil:
			return nil, ctx.Err()
		case s.err != nil:
			return nil, s.err
		}
		s.fresh.Wait()
	}
}

func read(r queue.Result, name string) (*Result, error) {
	if r.Error != "" {
		return nil, errors.New(name + ": " + r.Error)
	}
	result := &Result{}
	if err := json.Unmarshal(r.Body, result); err != nil {
		return nil, fmt.Errorf("campaign: %s: a result that cannot be read: %w", name, err)
	}
	return result, nil
}

// Close ends the session; what was played stays in the queue.
func (s *Session) Close() {
	s.stop()
	s.all.Wait()
}

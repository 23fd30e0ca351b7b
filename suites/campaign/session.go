package campaign

import (
	"context"
	"sync"
	"time"

	"kilter/suites/queue"
)

// Session hands the runs of one campaign to a queue, and gathers their results. Its methods are for one goroutine.
type Session struct {
	queue   *queue.Queue
	name    string
	stop    context.CancelFunc
	all     sync.WaitGroup
	present func() []queue.Presence
	note    func(string)

	mutex   sync.Mutex
	fresh   *sync.Cond
	results map[string]queue.Result // by key
	news    []string                // keys of those that came since they were last asked for
	err     error                   // why no more results come
}

// Options tune a session.
type Options struct {
	// Slots is how many runs are played at once, for each a process; 0 leaves all to workers elsewhere.
	Slots int
	// Player plays them.
	Player *Player
	// Note, if not nil, is told now and then while nobody is there to play what is waited for.
	Note func(text string)
}

// Open begins or resumes the campaign of that name: its results so far are read first. What another build has played is
// another campaign's, since its plant may differ.
func Open(ctx context.Context, q *queue.Queue, name string, opt Options) (*Session, error) {
	ctx, stop := context.WithCancel(ctx)
	name += " by " + Build()
	s := &Session{queue: q, name: name, stop: stop, note: opt.Note, results: map[string]queue.Result{}}
	s.fresh = sync.NewCond(&s.mutex)
	var err error
	if s.present, err = q.Watch(ctx); err != nil {
		stop()
		return nil, err
	}
	s.all.Go(func() {
		s.end(q.Collect(ctx, name, endless, func(r queue.Result) bool {
			s.wake(func() {
				s.results[r.Key] = r
				s.news = append(s.news, r.Key)
			})
			return true
		}))
	})
	if opt.Slots > 0 {
		s.all.Go(func() {
			processes := NewProcesses(opt.Player, opt.Slots)
			defer processes.Close()
			if err := q.Work(ctx, queue.Worker{Offers: opt.Player.Offers(), Slots: opt.Slots, Run: processes.Work}); err != nil {
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

// failedOnes drops the results that are errors, such as that of a run whose workers died: they are played again.
func (s *Session) failedOnes() (keys []string) {
	s.mutex.Lock()
	defer s.mutex.Unlock()
	for key, r := range s.results {
		if r.Error != "" {
			keys = append(keys, key)
			delete(s.results, key)
		}
	}
	return keys
}

// catchUp waits for the results that there are already.
func (s *Session) catchUp(ctx context.Context) error {
	for {
		// Asked again and again: another session of the same campaign may drop results that are errors meanwhile.
		done, err := s.queue.Done(ctx, s.name)
		if err != nil {
			return err
		}
		there, err := s.wait(done)
		switch {
		case err != nil:
			return err
		case !there:
			continue
		}
		if failed := s.failedOnes(); len(failed) > 0 {
			return s.queue.Forget(ctx, s.name, failed...)
		}
		return nil
	}
}

// wait waits for so many results, and says whether they have come within a while.
func (s *Session) wait(count int) (there bool, err error) {
	s.mutex.Lock()
	defer s.mutex.Unlock()
	s.awhile(func() bool { return len(s.results) >= count || s.err != nil })
	return len(s.results) >= count, s.err
}

// Done is how many results the campaign has, of this session and of those before it.
func (s *Session) Done() int {
	s.mutex.Lock()
	defer s.mutex.Unlock()
	return len(s.results)
}

// Known is the result that a run has already, of this session or one before it; nil where it has none.
func (s *Session) Known(r *Run) (*Result, error) {
	key, err := r.Key()
	if err != nil {
		return nil, err
	}
	s.mutex.Lock()
	known, is := s.results[key]
	s.mutex.Unlock()
	if !is {
		return nil, nil
	}
	return read(known, r.Name)
}

// Forget drops the results of runs: they are played again when they are asked for.
func (s *Session) Forget(ctx context.Context, runs ...Run) error {
	for i := range runs {
		key, err := runs[i].Key()
		if err != nil {
			return err
		}
		if err := s.queue.Forget(ctx, s.name, key); err != nil {
			return err
		}
		s.mutex.Lock()
		delete(s.results, key)
		s.mutex.Unlock()
	}
	return nil
}

// Workers are those heard of within the last seconds, whatever they can play: here and elsewhere.
func (s *Session) Workers() []queue.Presence { return s.present() }

// endless is more results than any campaign has.
const endless = 1 << 62

func (s *Session) end(err error) {
	s.wake(func() {
		if s.err == nil {
			s.err = err
		}
	})
}

// Close ends the session. Runs under way in this process are cut short, and those not begun anywhere are withdrawn; what was
// played stays in the queue.
func (s *Session) Close() {
	s.stop()
	s.all.Wait()
	ctx, cancel := context.WithTimeout(context.Background(), 2*time.Second)
	defer cancel()
	_ = s.queue.Withdraw(ctx, s.name) // where the server is away they are played for the next session
}

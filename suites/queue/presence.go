package queue

import (
	"cmp"
	"context"
	"encoding/json"
	"slices"
	"sync"
	"time"

	"github.com/nats-io/nats.go"
)

// Presence is a worker that has been heard of lately. It is what the worker says of itself: no more than a hint.
type Presence struct {
	// Name is the worker's own, made up when it began.
	Name string `json:"name"`
	// Offers are the needs of jobs that it can meet, and Slots how many jobs it runs at once.
	Offers []string `json:"offers"`
	Slots  int      `json:"slots"`
}

// Meets says whether the worker can be given a job that needs this.
func (p *Presence) Meets(need string) bool { return slices.Contains(p.Offers, need) }

const (
	// aliveEvery is how often a worker says that it is there.
	aliveEvery = time.Second
	// mostHeard bounds how many workers are remembered, and mostSaid what each may say, whatever is sent.
	mostHeard, mostSaid = 20_000, 16 << 10
)

// tellAlive says that a worker is there, until the context ends.
func (q *Queue) tellAlive(ctx context.Context, w Worker) {
	text, err := json.Marshal(Presence{nats.NewInbox(), w.Offers, w.Slots})
	if err != nil {
		return // strings and a number
	}
	ticker := time.NewTicker(aliveEvery)
	defer ticker.Stop()
	for {
		if q.conn.IsConnected() { // what is said while the server is away would pile up
			_ = q.conn.Publish(aliveSubject, text)
		}
		select {
		case <-ticker.C:
		case <-ctx.Done():
			return
		}
	}
}

// Watch listens for workers until the context ends: present tells who has been heard of within the last seconds, by name.
func (q *Queue) Watch(ctx context.Context) (present func() []Presence, err error) {
	type sign struct {
		Presence
		at time.Time
	}
	var mutex sync.Mutex
	heard := map[string]sign{}
	s, err := q.conn.Subscribe(aliveSubject, func(m *nats.Msg) {
		var p Presence
		if len(m.Data) > mostSaid || json.Unmarshal(m.Data, &p) != nil {
			return
		}
		mutex.Lock()
		defer mutex.Unlock()
		if _, known := heard[p.Name]; known || len(heard) < mostHeard {
			heard[p.Name] = sign{p, time.Now()}
		}
	})
	if err != nil {
		return nil, err
	}
	context.AfterFunc(ctx, func() { _ = s.Unsubscribe() })
	return func() (list []Presence) {
		mutex.Lock()
		defer mutex.Unlock()
		for name, s := range heard {
			if time.Since(s.at) > 3*aliveEvery {
				delete(heard, name)
				continue
			}
			list = append(list, s.Presence)
		}
		slices.SortFunc(list, func(a, b Presence) int { return cmp.Compare(a.Name, b.Name) })
		return list
	}, nil
}

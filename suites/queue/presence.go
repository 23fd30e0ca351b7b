package queue

import (
	"context"
	"strings"
	"sync"
	"time"

	"github.com/nats-io/nats.go"
)

// aliveEvery is how often a worker says that it is there.
const aliveEvery = time.Second

// tellAlive says that a worker is there, until the context ends.
func (q *Queue) tellAlive(ctx context.Context, w Worker) {
	name := nats.NewInbox()
	ticker := time.NewTicker(aliveEvery)
	defer ticker.Stop()
	for {
		for _, offer := range w.Offers {
			_ = q.conn.Publish(aliveSubject+token(offer), []byte(name))
		}
		select {
		case <-ticker.C:
		case <-ctx.Done():
			return
		}
	}
}

// Watch counts the workers that offer something, until the context ends: alive tells how many have been heard of within
// the last seconds.
func (q *Queue) Watch(ctx context.Context, offer string) (alive func() int, err error) {
	var mutex sync.Mutex
	heard := map[string]time.Time{}
	s, err := q.conn.Subscribe(aliveSubject+token(offer), func(m *nats.Msg) {
		mutex.Lock()
		defer mutex.Unlock()
		heard[strings.Clone(string(m.Data))] = time.Now()
	})
	if err != nil {
		return nil, err
	}
	context.AfterFunc(ctx, func() { _ = s.Unsubscribe() })
	return func() int {
		mutex.Lock()
		defer mutex.Unlock()
		for name, at := range heard {
			if time.Since(at) > 3*aliveEvery {
				delete(heard, name)
			}
		}
		return len(heard)
	}, nil
}

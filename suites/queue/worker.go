package queue

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"
)

// Worker runs jobs.
type Worker struct {
	// Offers are the needs of jobs that it can meet; it is given no others.
	Offers []string
	// Slots is how many jobs it runs at once, at least 1.
	Slots int
	// Run does a job. Its error is the job's result: it is for what the run itself shows. A run that the context cuts short
	// is done again, by whoever is left.
	Run func(ctx context.Context, body []byte) ([]byte, error)
}

const (
	// ackWait is after how long without a sign of life a worker's job goes to another.
	ackWait = 10 * time.Second
	// signEvery is how often a worker gives that sign.
	signEvery = 3 * time.Second
	// mostDeliveries is how often a job may be begun and not ended, such as one that takes its worker with it, before it is given up.
	mostDeliveries = 10
	// askFor is how long one question for a job stands.
	askFor = 10 * time.Second
	// idleConsumer is after how long without a worker the server forgets what it keeps for workers of one offer. The jobs stay.
	idleConsumer = 24 * time.Hour
)

// Work runs jobs until the context ends; what is under way then goes back to the queue. While the server is away it waits.
func (q *Queue) Work(ctx context.Context, w Worker) error {
	if w.Slots < 1 || len(w.Offers) == 0 {
		return fmt.Errorf("queue: a worker of %d slots that offers %d things has nothing to do", w.Slots, len(w.Offers))
	}
	free := make(chan struct{}, w.Slots)
	for range w.Slots {
		free <- struct{}{}
	}
	var all sync.WaitGroup
	all.Go(func() { q.tellAlive(ctx, w) })
	for _, offer := range w.Offers {
		all.Go(func() {
			for ctx.Err() == nil {
				if err := q.fetch(ctx, offer, free, w.Run, &all); err != nil && ctx.Err() == nil {
					q.note("no jobs come: %v; trying again", err)
					_ = pause(ctx, retryAfter)
				}
			}
		})
	}
	all.Wait()
	if q.conn.IsConnected() {
		_ = q.conn.FlushTimeout(lastWords) // what was handed back is to be there when this returns
	}
	return nil
}

// fetch has the jobs done that have one need, as slots become free, until the context ends.
func (q *Queue) fetch(ctx context.Context, offer string, free chan struct{}, run func(context.Context, []byte) ([]byte, error), all *sync.WaitGroup) error {
	soon, cancel := context.WithTimeout(ctx, ackTimeout)
	defer cancel()
	consumer, err := q.work.CreateOrUpdateConsumer(soon, jetstream.ConsumerConfig{
		Durable: token(offer), FilterSubject: workSubject + token(offer) + ".>", AckPolicy: jetstream.AckExplicitPolicy,
		AckWait: ackWait, MaxDeliver: -1, MaxAckPending: -1, InactiveThreshold: idleConsumer,
	})
	if err != nil {
		return err
	}
	for {
		// Nothing is fetched in advance: what waits here would not be played by those who have time.
		select {
		case <-free:
			free <- struct{}{}
		case <-ctx.Done():
			return nil
		}
		message, err := q.next(ctx, consumer)
		switch {
		case ctx.Err() != nil:
			return nil
		case err != nil:
			return err
		case message == nil:
			continue
		}
		all.Go(func() { q.alive(ctx, message, free, run) })
	}
}

// next asks for one job, and returns none where there is none for a while.
func (q *Queue) next(ctx context.Context, consumer jetstream.Consumer) (jetstream.Msg, error) {
	soon, cancel := context.WithTimeout(ctx, askFor)
	defer cancel()
	batch, err := consumer.Fetch(1, jetstream.FetchContext(soon), jetstream.FetchHeartbeat(signEvery))
	if err != nil {
		return nil, err
	}
	for message := range batch.Messages() {
		if ctx.Err() != nil {
			_ = message.Nak()
			continue
		}
		return message, nil
	}
	if err := batch.Error(); err != nil && soon.Err() == nil && !errors.Is(err, nats.ErrTimeout) {
		return nil, err
	}
	return nil, nil
}

// alive has a job done as soon as a slot is free, and gives signs of life meanwhile.
func (q *Queue) alive(ctx context.Context, message jetstream.Msg, free chan struct{}, run func(context.Context, []byte) ([]byte, error)) {
	signing, done := context.WithCancel(ctx)
	var signs sync.WaitGroup
	defer signs.Wait()
	defer done()
	signs.Go(func() {
		ticker := time.NewTicker(signEvery)
		defer ticker.Stop()
		for {
			select {
			case <-ticker.C:
				_ = message.InProgress()
			case <-signing.Done():
				return
			}
		}
	})
	select {
	case <-free:
		defer func() { free <- struct{}{} }()
		q.do(ctx, message, run)
	case <-ctx.Done():
		_ = message.Nak()
	}
}

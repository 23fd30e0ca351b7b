package queue

import (
	"context"
	"encoding/json"
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
	// mostDeliveries is how often a job may take its worker with it before it is given up.
	mostDeliveries = 5
)

// Work runs jobs until the context ends.
func (q *Queue) Work(ctx context.Context, w Worker) error {
	if w.Slots < 1 || len(w.Offers) == 0 {
		return fmt.Errorf("queue: a worker of %d slots that offers %d things has nothing to do", w.Slots, len(w.Offers))
	}
	tasks := make(chan jetstream.Msg)
	var all sync.WaitGroup
	errs := make([]error, len(w.Offers))
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	all.Go(func() { q.tellAlive(ctx, w) })
	for i, offer := range w.Offers {
		all.Go(func() {
			if errs[i] = q.fetch(ctx, offer, tasks); errs[i] != nil {
				cancel()
			}
		})
	}
	for range w.Slots {
		all.Go(func() {
			for {
				select {
				case message := <-tasks:
					q.do(ctx, message, w.Run)
				case <-ctx.Done():
					return
				}
			}
		})
	}
	all.Wait()
	return errors.Join(errs...)
}

// fetch hands on the jobs that have one need, as slots become free.
func (q *Queue) fetch(ctx context.Context, offer string, tasks chan<- jetstream.Msg) error {
	consumer, err := q.work.CreateOrUpdateConsumer(ctx, jetstream.ConsumerConfig{
		Durable: token(offer), FilterSubject: workSubject + token(offer), AckPolicy: jetstream.AckExplicitPolicy,
		AckWait: ackWait, MaxDeliver: -1, MaxAckPending: -1,
	})
	if err != nil {
		if ctx.Err() != nil {
			return nil
		}
		return fmt.Errorf("queue: %w", err)
	}
	// One in advance for all slots: what waits here gives no sign of life.
	messages, err := consumer.Messages(jetstream.PullMaxMessages(1))
	if err != nil {
		return fmt.Errorf("queue: %w", err)
	}
	defer messages.Stop()
	for {
		message, err := messages.Next(jetstream.NextContext(ctx))
		switch {
		case ctx.Err() != nil:
			if message != nil {
				_ = message.Nak()
			}
			return nil
		case errors.Is(err, jetstream.ErrNoHeartbeat):
			continue // the server is away, and will be back
		case err != nil:
			return fmt.Errorf("queue: %w", err)
		}
		select {
		case tasks <- message:
		case <-ctx.Done():
			_ = message.Nak()
			return nil
		}
	}
}

// do runs one job, and puts its result where it counts once.
func (q *Queue) do(ctx context.Context, message jetstream.Msg, run func(context.Context, []byte) ([]byte, error)) {
	var p parcel
	if err := json.Unmarshal(message.Data(), &p); err != nil {
		_ = message.TermWithReason("no job")
		return
	}
	r := Result{Key: p.Key}
	if m, err := message.Metadata(); err == nil && m.NumDelivered > mostDeliveries {
		r.Error = fmt.Sprintf("it was given up: %d workers that began it did not end it", m.NumDelivered-1)
	} else {
		body, err := q.alive(ctx, message, func() ([]byte, error) { return run(ctx, p.Body) })
		if ctx.Err() != nil {
			_ = message.Nak()
			return
		}
		if r.Body = body; err != nil {
			r.Body, r.Error = nil, err.Error()
		}
	}
	text, err := json.Marshal(r)
	if err != nil {
		_ = message.TermWithReason("no result")
		return
	}
	if q.keep(ctx, p.resultSubject(), text) == nil {
		_ = message.Ack()
	} else {
		_ = message.Nak()
	}
}

// keep stores a result, unless the key has one.
func (q *Queue) keep(ctx context.Context, subject string, text []byte) error {
	_, err := q.js.PublishMsg(ctx, &nats.Msg{Subject: subject, Data: text}, jetstream.WithRetryAttempts(20))
	var refused *jetstream.APIError
	if errors.As(err, &refused) && refused.ErrorCode == oneForEach {
		return nil
	}
	return err
}

// oneForEach is the server's error code where a stream refuses a message since its subject has one.
const oneForEach = jetstream.ErrorCode(10077)

// alive gives signs of life while a job is run.
func (q *Queue) alive(ctx context.Context, message jetstream.Msg, run func() ([]byte, error)) ([]byte, error) {
	ctx, done := context.WithCancel(ctx)
	ticker := time.NewTicker(signEvery)
	defer ticker.Stop()
	var signs sync.WaitGroup
	signs.Go(func() {
		for {
			select {
			case <-ticker.C:
				_ = message.InProgress()
			case <-ctx.Done():
				return
			}
		}
	})
	defer signs.Wait()
	defer done()
	return run()
}

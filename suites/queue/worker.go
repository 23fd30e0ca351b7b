package queue

import (
	"context"
	"fmt"
	"sync"
	"time"

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
	// idleConsumer is after how long without a worker the server forgets what it keeps for workers of one offer. The jobs stay.
	idleConsumer = 24 * time.Hour
)

// Work runs jobs until the context ends; what is under way then goes back to the queue. While the server is away it waits.
func (q *Queue) Work(ctx context.Context, w Worker) error {
	if w.Slots < 1 || len(w.Offers) == 0 {
		return fmt.Errorf("queue: a worker of %d slots that offers %d things has nothing to do", w.Slots, len(w.Offers))
	}
	c := &crew{q: q, run: w.Run, free: make(chan struct{}, w.Slots)}
	for range w.Slots {
		c.free <- struct{}{}
	}
	var presence sync.WaitGroup
	presence.Go(func() { q.tellAlive(ctx, w) })
	for _, offer := range w.Offers {
		c.asking.Go(func() {
			for ctx.Err() == nil {
				if err := c.fetch(ctx, offer); err != nil && ctx.Err() == nil {
					q.note("no jobs come: %v; trying again", err)
					_ = pause(ctx, retryAfter)
				}
			}
		})
	}
	c.asking.Wait()
	c.playing.Wait()
	presence.Wait()
	if q.conn.IsConnected() {
		_ = q.conn.FlushTimeout(lastWords) // what was handed back is to be there when this returns
	}
	return nil
}

// crew is a worker at work.
type crew struct {
	q       *Queue
	run     func(ctx context.Context, body []byte) ([]byte, error)
	free    chan struct{} // one for each slot that is free
	asking  sync.WaitGroup
	playing sync.WaitGroup
}

// fetch has the jobs done that have one need, as slots become free, until the context ends.
func (c *crew) fetch(ctx context.Context, offer string) error {
	soon, cancel := context.WithTimeout(ctx, ackTimeout)
	defer cancel()
	consumer, err := c.q.work.CreateOrUpdateConsumer(soon, jetstream.ConsumerConfig{
		Durable: token(offer), FilterSubject: workSubject + token(offer) + ".>", AckPolicy: jetstream.AckExplicitPolicy,
		AckWait: ackWait, MaxDeliver: -1, MaxAckPending: -1, InactiveThreshold: idleConsumer,
	})
	if err != nil {
		return err
	}
	a, err := c.q.ask(consumer)
	if err != nil {
		return err
	}
	defer a.end()
	for {
		// Nothing is fetched in advance: what waits here would not be played by those who have time.
		select {
		case <-c.free:
			c.free <- struct{}{}
		case <-ctx.Done():
			return nil
		}
		job, err := a.next(ctx)
		if err != nil {
			return err
		}
		c.playing.Go(func() { c.play(ctx, job) })
	}
}

// play has a job done as soon as a slot is free, and gives signs of life meanwhile.
func (c *crew) play(ctx context.Context, job *delivery) {
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
				job.sign()
			case <-signing.Done():
				return
			}
		}
	})
	cut := true
	select {
	case <-c.free:
		cut = !c.q.do(ctx, job, c.run)
		c.free <- struct{}{}
	case <-ctx.Done():
	}
	if cut {
		c.asking.Wait() // lest it comes back here
		job.handBack()
	}
}

package queue

import (
	"context"
	"encoding/json"
	"fmt"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"
)

// Job is one independent run.
type Job struct {
	// Key is the run's identity within its campaign.
	Key string `json:"key"`
	// Needs is what a worker must offer to be given it, such as a version and a controller; see Worker.Offers.
	Needs string `json:"needs"`
	// Body is what the run is, in the caller's own form.
	Body []byte `json:"body"`
}

// Result is what became of a job.
type Result struct {
	Key string `json:"key"`
	// Body is what the run gave; Error says why there is none.
	Body  []byte `json:"body,omitempty"`
	Error string `json:"error,omitempty"`
}

// parcel is a job on its way.
type parcel struct {
	Campaign string `json:"campaign"`
	Job
}

func (p *parcel) resultSubject() string {
	return resultSubject + token(p.Campaign) + "." + token(p.Key)
}

// Submit queues jobs of a campaign. A job that is queued, under way or done already may be queued again; its result counts
// once. Whoever knows that a job has a result spares the work by leaving it out.
func (q *Queue) Submit(ctx context.Context, campaign string, jobs []Job) error {
	acks := make([]jetstream.PubAckFuture, 0, len(jobs))
	for _, j := range jobs {
		body, err := json.Marshal(parcel{campaign, j})
		if err != nil {
			return fmt.Errorf("queue: %w", err)
		}
		message := nats.NewMsg(workSubject + token(j.Needs))
		message.Data = body
		message.Header.Set(nats.MsgIdHdr, token(campaign)+token(j.Key))
		ack, err := q.js.PublishMsgAsync(message, jetstream.WithRetryAttempts(20))
		if err != nil {
			return fmt.Errorf("queue: %w", err)
		}
		acks = append(acks, ack)
	}
	for _, ack := range acks {
		select {
		case <-ack.Ok():
		case err := <-ack.Err():
			return fmt.Errorf("queue: a job that was not taken: %w", err)
		case <-ctx.Done():
			return ctx.Err()
		}
	}
	return nil
}

// Done is how many results of a campaign there are.
func (q *Queue) Done(ctx context.Context, campaign string) (int, error) {
	info, err := q.results.Info(ctx, jetstream.WithSubjectFilter(resultSubject+token(campaign)+".*"))
	if err != nil {
		return 0, fmt.Errorf("queue: %w", err)
	}
	return len(info.State.Subjects), nil
}

// Collect gives the results of a campaign, those from before first and then each as it comes, until so many have come, see
// says that it has seen enough, or the context ends. The order is that of their coming.
func (q *Queue) Collect(ctx context.Context, campaign string, count int, see func(Result) (more bool)) error {
	if count <= 0 {
		return nil
	}
	return q.follow(ctx, campaign, func(r Result) bool {
		count--
		return see(r) && count > 0
	})
}

func (q *Queue) follow(ctx context.Context, campaign string, see func(Result) bool) error {
	consumer, err := q.results.OrderedConsumer(ctx, jetstream.OrderedConsumerConfig{
		FilterSubjects: []string{resultSubject + token(campaign) + ".*"}, DeliverPolicy: jetstream.DeliverAllPolicy,
	})
	if err != nil {
		return fmt.Errorf("queue: %w", err)
	}
	messages, err := consumer.Messages()
	if err != nil {
		return fmt.Errorf("queue: %w", err)
	}
	defer messages.Stop()
	for {
		message, err := messages.Next(jetstream.NextContext(ctx))
		if err != nil {
			if ctx.Err() != nil {
				return ctx.Err()
			}
			return fmt.Errorf("queue: %w", err)
		}
		var r Result
		if err := json.Unmarshal(message.Data(), &r); err != nil {
			return fmt.Errorf("queue: a result that cannot be read: %w", err)
		}
		if !see(r) {
			return nil
		}
	}
}

// Forget deletes a campaign's results.
func (q *Queue) Forget(ctx context.Context, campaign string) error {
	if err := q.results.Purge(ctx, jetstream.WithPurgeSubject(resultSubject+token(campaign)+".*")); err != nil {
		return fmt.Errorf("queue: %w", err)
	}
	return nil
}

package queue

import (
	"context"
	"errors"
	"fmt"
	"regexp"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"
)

// Job is one independent run.
type Job struct {
	// Key is the run's identity within its campaign: letters, digits, - and _.
	Key string
	// Needs is what a worker must offer to be given it, such as a version and a controller; see Worker.Offers.
	Needs string
	// Body is what the run is, in the caller's own form; at most 4 MiB.
	Body []byte
}

var fitKey = regexp.MustCompile(`^[A-Za-z0-9_-]{1,64}$`)

// window is how many jobs are on their way to the server at a time.
const window = 512

// Submit queues jobs of a campaign. A job that is queued or under way already is not queued again; one that was done is, and
// its result counts once: whoever knows that a job has a result spares the work by leaving it out. While the server is away it
// waits.
func (q *Queue) Submit(ctx context.Context, campaign string, jobs []Job) error {
	for len(jobs) > 0 {
		n := min(len(jobs), window)
		messages := make([]*nats.Msg, n)
		for i, j := range jobs[:n] {
			if !fitKey.MatchString(j.Key) {
				return fmt.Errorf("queue: the key %q: want letters, digits, - and _, at most 64", j.Key)
			}
			data, err := q.pack(j.Body)
			if err != nil {
				return fmt.Errorf("queue: the job %s: %w", j.Key, err)
			}
			messages[i] = &nats.Msg{Subject: workSubject + token(j.Needs) + "." + token(campaign) + "." + j.Key, Data: data}
		}
		if err := q.publish(ctx, messages); err != nil {
			return err
		}
		jobs = jobs[n:]
	}
	return nil
}

// publish has messages stored, each where its subject has none yet.
func (q *Queue) publish(ctx context.Context, messages []*nats.Msg) error {
	for {
		var again []*nats.Msg
		var why error
		acks := make([]jetstream.PubAckFuture, len(messages))
		for i, m := range messages {
			var err error
			if acks[i], err = q.js.PublishMsgAsync(m, jetstream.WithStallWait(ackTimeout)); err != nil {
				again, why = append(again, m), err
			}
		}
		for i, ack := range acks {
			if ack == nil {
				continue
			}
			select {
			case <-ack.Ok():
			case err := <-ack.Err():
				if isThere(err) {
					continue
				}
				again, why = append(again, messages[i]), err
			case <-ctx.Done():
				return ctx.Err()
			}
		}
		if len(again) == 0 {
			return nil
		}
		if err := refused(why); err != nil {
			return fmt.Errorf("queue: a job that the server does not take: %w", err)
		}
		if err := pause(ctx, retryAfter); err != nil {
			return err
		}
		messages = again
	}
}

const (
	// ackTimeout is how long the server may take to say that it has stored a message.
	ackTimeout = 10 * time.Second
	// retryAfter is how long to wait before what failed is tried again.
	retryAfter = time.Second
)

// isThere says whether a message was refused since its subject has one. The server's code for it stands for other refusals
// as well, such as a stream that is full; only its words tell them apart.
func isThere(err error) bool {
	var refused *jetstream.APIError
	return errors.As(err, &refused) && refused.Description == "maximum messages per subject exceeded"
}

// refused is the error where the server has said no, and nil where it may be away.
func refused(err error) error {
	var answer *jetstream.APIError
	if errors.As(err, &answer) || errors.Is(err, nats.ErrMaxPayload) || errors.Is(err, nats.ErrConnectionClosed) || errors.Is(err, nats.ErrPermissionViolation) {
		return err
	}
	return nil
}

// pause waits, or says that the context has ended.
func pause(ctx context.Context, d time.Duration) error {
	select {
	case <-time.After(d):
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// Withdraw takes a campaign's jobs that have no result out of the queue. Those under way are played to their end.
func (q *Queue) Withdraw(ctx context.Context, campaign string) error {
	if err := q.work.Purge(ctx, jetstream.WithPurgeSubject(workSubject+"*."+token(campaign)+".*")); err != nil {
		return fmt.Errorf("queue: %w", err)
	}
	return nil
}

package queue

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/nats-io/nats.go/jetstream"
)

// Result is what became of a job.
type Result struct {
	Key string
	// Body is what the run gave; Error says why there is none.
	Body  []byte
	Error string
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
// says that it has seen enough, or the context ends. The order is that of their coming. While the server is away it waits. After
// a server that came back without its latest results those that it has come again.
func (q *Queue) Collect(ctx context.Context, campaign string, count int, see func(Result) (more bool)) error {
	if count <= 0 {
		return nil
	}
	var last uint64 // the latest place in the stream that was seen
	for {
		over, err := q.follow(ctx, campaign, &last, func(r Result) bool {
			count--
			return see(r) && count > 0
		})
		switch {
		case over || err != nil && ctx.Err() == nil && q.conn.IsClosed():
			return err
		case ctx.Err() != nil:
			return ctx.Err()
		}
		q.note("the results do not come: %v; trying again", err)
		if err := pause(ctx, retryAfter); err != nil {
			return err
		}
	}
}

// follow gives results from behind last on, until see has seen enough; then it is over. An error says that the server is
// away, or has lost what it had.
func (q *Queue) follow(ctx context.Context, campaign string, last *uint64, see func(Result) bool) (over bool, err error) {
	soon, cancel := context.WithTimeout(ctx, ackTimeout)
	defer cancel()
	info, err := q.results.Info(soon)
	if err != nil {
		return false, err
	}
	if info.State.LastSeq < *last {
		*last = 0
	}
	// A consumer of this call's own: where it fails the next begins behind what was seen.
	consumer, err := q.results.CreateConsumer(soon, jetstream.ConsumerConfig{
		FilterSubject: resultSubject + token(campaign) + ".*", AckPolicy: jetstream.AckNonePolicy, MemoryStorage: true,
		DeliverPolicy: jetstream.DeliverByStartSequencePolicy, OptStartSeq: *last + 1, InactiveThreshold: time.Minute,
	})
	if err != nil {
		return false, err
	}
	messages, err := consumer.Messages(jetstream.PullHeartbeat(2 * time.Second))
	if err != nil {
		return false, err
	}
	defer messages.Stop()
	for delivered := uint64(1); ; delivered++ {
		message, err := messages.Next(jetstream.NextContext(ctx))
		if err != nil {
			return false, err
		}
		at, err := message.Metadata()
		if err != nil {
			return false, err
		}
		if at.Sequence.Consumer != delivered {
			return false, fmt.Errorf("the server gave the %d. result where the %d. was due", at.Sequence.Consumer, delivered)
		}
		*last = at.Sequence.Stream
		if !see(resultOf(message)) {
			return true, nil
		}
	}
}

// resultOf reads a result. One that is torn is an error for its key.
func resultOf(message jetstream.Msg) Result {
	subject := message.Subject()
	r := Result{Key: subject[strings.LastIndexByte(subject, '.')+1:]}
	body, err := unpack(message.Data())
	switch {
	case err != nil:
		r.Error = err.Error()
	case message.Headers().Get(failedHeader) != "":
		r.Error = string(body)
	default:
		r.Body = body
	}
	return r
}

// failedHeader marks a result that is the text of an error.
const failedHeader = "Kilter-Failed"

// Forget deletes a campaign's results, or only those of some keys.
func (q *Queue) Forget(ctx context.Context, campaign string, keys ...string) error {
	if len(keys) == 0 {
		keys = []string{"*"}
	}
	for _, key := range keys {
		if err := q.results.Purge(ctx, jetstream.WithPurgeSubject(resultSubject+token(campaign)+"."+key)); err != nil {
			return fmt.Errorf("queue: %w", err)
		}
	}
	return nil
}

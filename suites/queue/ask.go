package queue

import (
	"context"
	"fmt"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"
)

// asking is a worker's side of one consumer: it asks for one job at a time. The client library has the same, but not a way to
// know when nothing more can come, without which what is handed back might be given to a question that nobody listens to any more.
type asking struct {
	q        *Queue
	subject  string // where to ask
	sub      *nats.Subscription
	messages chan *nats.Msg
	asked    bool // a question stands
}

const (
	// askFor is how long one question for a job stands.
	askFor = 30 * time.Second
	// signs of life of the server while it has no job; a question without one for longer than silence is lost.
	idleSign = 3 * time.Second
	silence  = 2*idleSign + time.Second
)

func (q *Queue) ask(consumer jetstream.Consumer) (*asking, error) {
	a := &asking{q: q, subject: "$JS.API.CONSUMER.MSG.NEXT." + workStream + "." + consumer.CachedInfo().Name, messages: make(chan *nats.Msg, 64)}
	var err error
	a.sub, err = q.conn.ChanSubscribe(q.conn.NewInbox(), a.messages)
	return a, err
}

// next waits for a job. The error says that the server is away, or the consumer.
func (a *asking) next(ctx context.Context) (*delivery, error) {
	quiet := time.NewTimer(silence)
	defer quiet.Stop()
	for {
		if !a.asked {
			question := fmt.Sprintf(`{"batch":1,"expires":%d,"idle_heartbeat":%d}`, askFor.Nanoseconds(), idleSign.Nanoseconds())
			if err := a.q.conn.PublishRequest(a.subject, a.sub.Subject, []byte(question)); err != nil {
				return nil, err
			}
			a.asked = true
		}
		select {
		case m := <-a.messages:
			quiet.Reset(silence)
			switch status := statusOf(m); status {
			case "":
				a.asked = false
				return &delivery{a.q.conn, m}, nil
			case "100": // a sign of life
			case "404", "408": // the question has had its time
				a.asked = false
			default:
				return nil, fmt.Errorf("the server answers %s %s", status, m.Header.Get("Description"))
			}
		case <-quiet.C:
			return nil, fmt.Errorf("the server is silent")
		case <-ctx.Done():
			return nil, ctx.Err()
		}
	}
}

// end sees to it that nothing more comes, and hands back what has come.
func (a *asking) end() {
	_ = a.sub.Drain()
	if a.q.conn.IsConnected() {
		_ = a.q.conn.FlushTimeout(lastWords)
	}
	for {
		select {
		case m := <-a.messages:
			if statusOf(m) == "" {
				(&delivery{a.q.conn, m}).handBack()
			}
		default:
			return
		}
	}
}

// statusOf is the status of a message that is no job, empty for a job.
func statusOf(m *nats.Msg) string {
	if len(m.Data) > 0 {
		return ""
	}
	return m.Header.Get("Status")
}

// delivery is a job that was given to this worker.
type delivery struct {
	conn *nats.Conn
	*nats.Msg
}

// What can be answered to a delivery stands in the protocol of JetStream: done; take it back and give it to another; still at it. Where
// the answer is lost the job is given to another after ackWait, who finds the result there.
func (d *delivery) finish()   { _ = d.conn.Publish(d.Reply, []byte("+ACK")) }
func (d *delivery) handBack() { _ = d.conn.Publish(d.Reply, []byte("-NAK")) }
func (d *delivery) sign()     { _ = d.conn.Publish(d.Reply, []byte("+WPI")) }

// begun is how often the job has been given to a worker, this time included.
func (d *delivery) begun() int {
	m, err := d.Metadata()
	if err != nil {
		return 1
	}
	return int(m.NumDelivered)
}

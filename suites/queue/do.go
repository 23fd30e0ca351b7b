package queue

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/nats-io/nats.go"
)

// lastWords is how long a worker that ends may take to put down what it has done already.
const lastWords = 2 * time.Second

// do runs one job, and puts its result where it counts once. It says whether that was done; the job goes back to the queue where it
// was not.
func (q *Queue) do(ctx context.Context, job *delivery, run func(context.Context, []byte) ([]byte, error)) (done bool) {
	to := resultSubject + strings.Join(strings.Split(job.Subject, ".")[3:], ".") // campaign and key
	begun := job.begun()
	if begun > 1 && q.has(ctx, to) { // by a worker that could not say so
		job.finish()
		return true
	}
	result, err := q.result(ctx, to, begun, job.Data, run)
	if err != nil {
		return false
	}
	keeping, cancel := context.WithCancel(ctx)
	if ctx.Err() != nil {
		keeping, cancel = context.WithTimeout(context.WithoutCancel(ctx), lastWords)
	}
	defer cancel()
	if q.keep(keeping, result) != nil {
		return false
	}
	job.finish()
	return true
}

// result is what a job came to, as a message. The error says that the run was cut short.
func (q *Queue) result(ctx context.Context, to string, begun int, data []byte, run func(context.Context, []byte) ([]byte, error)) (*nats.Msg, error) {
	failed := func(why error) (*nats.Msg, error) {
		text := why.Error()
		packed, err := q.pack([]byte(text[:min(len(text), mostError)]))
		return &nats.Msg{Subject: to, Header: nats.Header{failedHeader: {"yes"}}, Data: packed}, err
	}
	if begun > mostDeliveries {
		return failed(fmt.Errorf("it was given up: it was begun %d times and never ended", begun-1))
	}
	body, err := unpack(data)
	if err != nil {
		return failed(err)
	}
	body, err = guarded(ctx, body, run)
	switch {
	case err != nil && ctx.Err() != nil:
		return nil, err
	case err != nil:
		return failed(err)
	}
	packed, err := q.pack(body)
	if err != nil {
		return failed(fmt.Errorf("its result: %w", err))
	}
	return &nats.Msg{Subject: to, Data: packed}, nil
}

// mostError is how long the text of an error may be.
const mostError = 16 << 10

// guarded runs a job whose body anybody may have sent: a panic is its error.
func guarded(ctx context.Context, body []byte, run func(context.Context, []byte) ([]byte, error)) (result []byte, err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("a fault of the bench: %v", p)
		}
	}()
	return run(ctx, body)
}

// has says whether there is a result already.
func (q *Queue) has(ctx context.Context, subject string) bool {
	soon, cancel := context.WithTimeout(ctx, ackTimeout)
	defer cancel()
	_, err := q.results.GetLastMsgForSubject(soon, subject)
	return err == nil
}

// keep stores a result, unless the key has one. While the server is away, or has no room, it goes on trying.
func (q *Queue) keep(ctx context.Context, result *nats.Msg) error {
	for {
		err := func() error {
			soon, cancel := context.WithTimeout(ctx, ackTimeout)
			defer cancel()
			_, err := q.js.PublishMsg(soon, result)
			return err
		}()
		switch {
		case err == nil || isThere(err):
			return nil
		case errors.Is(err, nats.ErrConnectionClosed) || errors.Is(err, nats.ErrMaxPayload):
			return err
		}
		q.note("a result that cannot be stored: %v; trying again", err)
		if err := pause(ctx, retryAfter); err != nil {
			return err
		}
	}
}

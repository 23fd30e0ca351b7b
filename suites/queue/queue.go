// Package queue spreads independent runs over workers, and counts each once: a NATS JetStream work queue, with the server
// in this process or elsewhere.
//
// A campaign is a set of jobs under one name; a job has a key, which is its identity: the same key is the same run,
// whoever submits it and however often. Results are kept, one for each key, whatever is delivered twice; so a campaign that
// was interrupted anywhere goes on where it was when it is submitted again.
package queue

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"net"
	"net/url"
	"os"
	"strings"
	"time"

	"github.com/nats-io/nats-server/v2/server"
	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"
)

// Options say where the queue is.
type Options struct {
	// URL of a NATS server, such as nats://host:4222 or tls://host:4222; empty for one in this process, which opens no port.
	URL string
	// Credentials is a file with the user's credentials for the server; empty for none.
	Credentials string
	// CA is a PEM file with the authorities that sign the server's certificate; empty for those of the system.
	CA string
	// Certificate and Key are PEM files by which this end shows who it is, where the server asks for that; empty for none.
	Certificate, Key string
	// Folder is where the server in this process keeps its streams.
	Folder string
	// Wait has Open wait for a server that cannot be reached yet.
	Wait bool
	// Note, if not nil, is told when the server goes away, comes back, or has no room, from any goroutine.
	Note func(text string)
}

// Queue is a connection to the streams. Its methods may be called by several goroutines.
type Queue struct {
	server  *server.Server // nil where it is elsewhere
	folder  *os.File       // held by the server in this process
	notes   *notes
	conn    *nats.Conn
	js      jetstream.JetStream
	work    jetstream.Stream
	results jetstream.Stream
}

// Names of the streams and their subjects. A job's subject is work, need, campaign, key; a result's is result, campaign, key.
const (
	workStream    = "KILTER_WORK"
	resultStream  = "KILTER_RESULTS"
	workSubject   = "kilter.work."
	resultSubject = "kilter.result."
	aliveSubject  = "kilter.alive"
)

// Open connects to the queue, and makes its streams where they are missing.
func Open(ctx context.Context, opt Options) (*Queue, error) {
	q := &Queue{notes: &notes{tell: opt.Note}}
	connect, err := q.options(opt)
	if err != nil {
		return nil, err
	}
	if opt.URL == "" {
		if err := q.startServer(opt.Folder); err != nil {
			q.Close()
			return nil, err
		}
		connect = append(connect, nats.InProcessServer(q.server))
	}
	if err = q.connect(ctx, opt, connect); err == nil {
		err = q.open(ctx, opt)
	}
	if err != nil {
		q.Close()
		return nil, err
	}
	q.notes.ready.Store(true)
	return q, nil
}

func (q *Queue) connect(ctx context.Context, opt Options, connect []nats.Option) (err error) {
	for {
		if q.conn, err = nats.Connect(opt.URL, connect...); err == nil {
			return nil
		}
		var unreachable *net.OpError
		if !opt.Wait || !errors.Is(err, nats.ErrNoServers) && !errors.As(err, &unreachable) {
			return fmt.Errorf("queue: %s: %w", shown(opt.URL), err)
		}
		q.notes.say(fmt.Sprintf("%s: %v; trying again", shown(opt.URL), err))
		if err := pause(ctx, retryAfter); err != nil {
			return err
		}
	}
}

// options are those of the connection.
func (q *Queue) options(opt Options) ([]nats.Option, error) {
	connect := []nats.Option{
		nats.Name("kilter"), nats.MaxReconnects(-1), nats.ReconnectWait(500 * time.Millisecond),
		// What goes away without a word, such as a network that is cut, is noticed after two of these.
		nats.PingInterval(5 * time.Second), nats.MaxPingsOutstanding(2), nats.IgnoreAuthErrorAbort(),
		nats.DisconnectErrHandler(func(_ *nats.Conn, err error) {
			if err != nil {
				q.note("the connection to the server is lost (%v); trying to reach it again", err)
			}
		}),
		nats.ReconnectHandler(func(c *nats.Conn) { q.note("connected to the server again, %s", c.ConnectedUrlRedacted()) }),
		nats.ErrorHandler(func(_ *nats.Conn, _ *nats.Subscription, err error) { q.note("%v", err) }),
	}
	for _, name := range []string{opt.Credentials, opt.CA, opt.Certificate, opt.Key} {
		if name == "" {
			continue
		}
		if _, err := os.ReadFile(name); err != nil { // which the client would report much later, if at all
			return nil, fmt.Errorf("queue: %w", err)
		}
	}
	if opt.Credentials != "" {
		connect = append(connect, nats.UserCredentials(opt.Credentials))
	}
	if opt.CA != "" {
		connect = append(connect, nats.RootCAs(opt.CA))
	}
	if opt.Certificate != "" {
		connect = append(connect, nats.ClientCert(opt.Certificate, opt.Key))
	}
	return connect, nil
}

func (q *Queue) open(ctx context.Context, opt Options) error {
	var err error
	if q.js, err = jetstream.New(q.conn, jetstream.WithPublishAsyncTimeout(ackTimeout)); err != nil {
		return fmt.Errorf("queue: %w", err)
	}
	ctx, cancel := context.WithTimeout(ctx, 15*time.Second)
	defer cancel()
	q.work, err = q.js.CreateOrUpdateStream(ctx, jetstream.StreamConfig{
		Name: workStream, Subjects: []string{workSubject + "*.*.*"}, Retention: jetstream.WorkQueuePolicy, Storage: jetstream.FileStorage,
		// One job for a key while it is queued or under way: a second is refused by the server.
		MaxMsgsPerSubject: 1, Discard: jetstream.DiscardNew, DiscardNewPerSubject: true,
	})
	if err == nil {
		// One result for a key: a second is refused by the server, whoever brings it.
		q.results, err = q.js.CreateOrUpdateStream(ctx, jetstream.StreamConfig{
			Name: resultStream, Subjects: []string{resultSubject + "*.*"}, Storage: jetstream.FileStorage,
			MaxMsgsPerSubject: 1, Discard: jetstream.DiscardNew, DiscardNewPerSubject: true,
		})
	}
	if err != nil {
		where := shown(opt.URL)
		if where == "" {
			where = "the server in this process"
		}
		return fmt.Errorf("queue: %s: %w; is it a NATS server with JetStream on, and may this user use it?", where, err)
	}
	return nil
}

// Close ends the connection, and the server in this process.
func (q *Queue) Close() {
	if q.conn != nil {
		q.conn.Close()
	}
	if q.server != nil {
		q.server.Shutdown()
		q.server.WaitForShutdown()
	}
	if q.folder != nil {
		q.folder.Close()
	}
}

// shown is a URL, or several with commas between them, without passwords.
func shown(urls string) string {
	parts := strings.Split(urls, ",")
	for i, p := range parts {
		if u, err := url.Parse(p); err == nil {
			parts[i] = u.Redacted()
		}
	}
	return strings.Join(parts, ",")
}

// token makes a part of a subject of any text.
func token(text string) string {
	sum := sha256.Sum256([]byte(text))
	return hex.EncodeToString(sum[:16])
}

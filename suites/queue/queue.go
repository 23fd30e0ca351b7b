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
}

// Queue is a connection to the streams. Its methods may be called by several goroutines.
type Queue struct {
	server  *server.Server // nil where it is elsewhere
	conn    *nats.Conn
	js      jetstream.JetStream
	work    jetstream.Stream
	results jetstream.Stream
}

// Names of the streams and their subjects.
const (
	workStream    = "KILTER_WORK"
	resultStream  = "KILTER_RESULTS"
	workSubject   = "kilter.work."
	resultSubject = "kilter.result."
	aliveSubject  = "kilter.alive"
)

// Open connects to the queue, and makes its streams where they are missing.
func Open(ctx context.Context, opt Options) (*Queue, error) {
	q := &Queue{}
	var err error
	connect := []nats.Option{
		nats.Name("kilter"), nats.MaxReconnects(-1), nats.ReconnectWait(200 * time.Millisecond), nats.RetryOnFailedConnect(opt.URL != ""),
	}
	if opt.URL == "" {
		if q.server, err = startServer(opt.Folder); err != nil {
			return nil, err
		}
		connect = append(connect, nats.InProcessServer(q.server))
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
	if q.conn, err = nats.Connect(opt.URL, connect...); err == nil {
		err = q.open(ctx, opt)
	}
	if err != nil {
		q.Close()
		return nil, err
	}
	return q, nil
}

// startServer runs a server in this process. Two at a time must not share a folder.
func startServer(folder string) (*server.Server, error) {
	if folder == "" {
		return nil, errors.New("queue: the server in this process needs a folder for its streams")
	}
	s, err := server.NewServer(&server.Options{
		ServerName: "kilter", DontListen: true, JetStream: true, StoreDir: folder, NoSigs: true, NoLog: true,
		JetStreamMaxMemory: 256 << 20, JetStreamMaxStore: 16 << 30,
	})
	if err != nil {
		return nil, fmt.Errorf("queue: %w", err)
	}
	s.Start()
	if !s.ReadyForConnections(10*time.Second) || !s.JetStreamEnabled() {
		s.Shutdown()
		return nil, fmt.Errorf("queue: the server in this process does not start; is another process at work in %s?", folder)
	}
	return s, nil
}

func (q *Queue) open(ctx context.Context, opt Options) error {
	var err error
	if q.js, err = jetstream.New(q.conn); err != nil {
		return fmt.Errorf("queue: %w", err)
	}
	ctx, cancel := context.WithTimeout(ctx, 15*time.Second)
	defer cancel()
	q.work, err = q.js.CreateOrUpdateStream(ctx, jetstream.StreamConfig{
		Name: workStream, Subjects: []string{workSubject + ">"}, Retention: jetstream.WorkQueuePolicy,
		Storage: jetstream.FileStorage, Duplicates: 10 * time.Minute,
	})
	if err == nil {
		// One result for a key: a second is refused by the server, whoever brings it.
		q.results, err = q.js.CreateOrUpdateStream(ctx, jetstream.StreamConfig{
			Name: resultStream, Subjects: []string{resultSubject + ">"}, Storage: jetstream.FileStorage,
			MaxMsgsPerSubject: 1, Discard: jetstream.DiscardNew, DiscardNewPerSubject: true,
		})
	}
	if err != nil {
		where := opt.URL
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
}

// token makes a part of a subject of any text.
func token(text string) string {
	sum := sha256.Sum256([]byte(text))
	return hex.EncodeToString(sum[:16])
}

package queue_test

import (
	"context"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"github.com/nats-io/nats-server/v2/server"

	"kilter/suites/queue"
)

// BenchmarkEmptyRuns is what the queue itself can do: runs that take no time, of the size of a built-in story, with results of the size
// of a verdict. Bytes are those on the server's disk, and those that it received and sent; processor time is that
// of the session, the worker and the server together.
func BenchmarkEmptyRuns(b *testing.B) {
	story, err := os.ReadFile("../../scenarios/builtin/stories/calm-start.yaml")
	if err != nil {
		b.Fatal(err)
	}
	site, err := os.ReadFile("../../scenarios/builtin/sites/bakery.yaml")
	if err != nil {
		b.Fatal(err)
	}
	body := append(story, site...)
	for _, slots := range []int{2, 32} {
		b.Run(fmt.Sprint(slots, " slots here"), func(b *testing.B) {
			folder := b.TempDir()
			q, err := queue.Open(b.Context(), queue.Options{Folder: folder})
			if err != nil {
				b.Fatal(err)
			}
			defer q.Close()
			emptyRuns(b, q, q, slots, body)
			b.ReportMetric(float64(size(b, folder))/float64(b.N), "B/run-on-disk")
		})
		b.Run(fmt.Sprint(slots, " slots over a socket"), func(b *testing.B) {
			folder := b.TempDir()
			s, err := server.NewServer(&server.Options{Host: "127.0.0.1", Port: server.RANDOM_PORT, JetStream: true, StoreDir: folder, NoSigs: true, NoLog: true})
			if err != nil {
				b.Fatal(err)
			}
			s.Start()
			defer s.Shutdown()
			if !s.ReadyForConnections(10 * time.Second) {
				b.Fatal("no server")
			}
			var ends [2]*queue.Queue
			for i := range ends {
				if ends[i], err = queue.Open(b.Context(), queue.Options{URL: s.ClientURL()}); err != nil {
					b.Fatal(err)
				}
				defer ends[i].Close()
			}
			emptyRuns(b, ends[0], ends[1], slots, body)
			v, err := s.Varz(nil)
			if err != nil {
				b.Fatal(err)
			}
			b.ReportMetric(float64(v.InBytes)/float64(b.N), "B/run-in")
			b.ReportMetric(float64(v.OutBytes)/float64(b.N), "B/run-out")
		})
	}
}

// emptyRuns submits b.N jobs at one end, has them done at another, and collects what comes.
func emptyRuns(b *testing.B, q, at *queue.Queue, slots int, body []byte) {
	b.Helper()
	ctx, cancel := context.WithCancel(b.Context())
	ended := make(chan error, 1)
	go func() {
		ended <- at.Work(ctx, queue.Worker{Offers: []string{"empty"}, Slots: slots, Run: func(_ context.Context, body []byte) ([]byte, error) {
			return body[:min(len(body), 1700)], nil
		}})
	}()
	list := make([]queue.Job, b.N)
	for i := range list {
		list[i] = queue.Job{Key: fmt.Sprint(i), Needs: "empty", Body: body}
	}
	used := cpu(b)
	b.ResetTimer()
	go func() {
		if err := q.Submit(ctx, "bench", list); err != nil {
			b.Error(err)
		}
	}()
	if err := q.Collect(ctx, "bench", b.N, func(queue.Result) bool { return true }); err != nil {
		b.Fatal(err)
	}
	b.StopTimer()
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "runs/s")
	b.ReportMetric(float64((cpu(b)-used).Microseconds())/float64(b.N), "cpu-us/run")
	cancel()
	if err := <-ended; err != nil {
		b.Error(err)
	}
}

// cpu is the processor time that this process has used, the server in it included.
func cpu(b *testing.B) time.Duration {
	b.Helper()
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// size is what a folder's files take.
func size(b *testing.B, folder string) (sum int64) {
	b.Helper()
	if err := filepath.WalkDir(folder, func(_ string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		info, err := d.Info()
		if err == nil {
			sum += info.Size()
		}
		return err
	}); err != nil {
		b.Fatal(err)
	}
	return sum
}

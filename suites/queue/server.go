package queue

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"syscall"
	"time"

	"github.com/nats-io/nats-server/v2/server"
)

// startServer runs a server in this process that keeps its streams in the folder, and opens no port.
func (q *Queue) startServer(folder string) error {
	if folder == "" {
		return errors.New("queue: the server in this process needs a folder for its streams")
	}
	if err := q.hold(folder); err != nil {
		return err
	}
	s, err := server.NewServer(&server.Options{
		ServerName: "kilter", DontListen: true, JetStream: true, StoreDir: folder, NoSigs: true, NoLog: true,
		JetStreamMaxMemory: 256 << 20, JetStreamMaxStore: 1 << 40, // as far as the disk goes
	})
	if err != nil {
		return fmt.Errorf("queue: %w", err)
	}
	q.server = s
	s.Start()
	if !s.ReadyForConnections(30*time.Second) || !s.JetStreamEnabled() {
		return fmt.Errorf("queue: the server in this process does not start on the folder %s", folder)
	}
	return nil
}

// hold keeps other processes from the folder while this one is at work in it: two servers would spoil it for one another. The
// system lets go of it when this process ends, however it ends.
func (q *Queue) hold(folder string) error {
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return fmt.Errorf("queue: %w", err)
	}
	file, err := os.OpenFile(filepath.Join(folder, "in-use"), os.O_CREATE|os.O_RDWR, 0o644)
	if err != nil {
		return fmt.Errorf("queue: %w", err)
	}
	if err := syscall.Flock(int(file.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		file.Close()
		return fmt.Errorf("queue: another process is at work in the folder %s; wait for it to end, or give another folder", folder)
	}
	q.folder = file
	return nil
}

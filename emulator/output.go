package emulator

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"sync"
	"sync/atomic"
	"syscall"
	"time"
)

// output is the pipe through which a process prints. Each line is handed on whole, behind the simulated time at
// which it began.
type output struct {
	mark  string // which copy of the controller it is
	to    io.Writer
	now   func() time.Duration
	taken atomic.Int64 // bytes so far

	mutex sync.Mutex // guards all below
	read  *os.File
	raw   syscall.RawConn
	line  bytes.Buffer // that has begun and not ended
	chunk [4096]byte

	ended chan struct{} // closed when nobody can print any more
}

// longestLine is how much is held back until a line ends.
const longestLine = 64 << 10

// newOutput makes the pipe; the process gets the file.
func newOutput(mark string, to io.Writer, now func() time.Duration) (*output, *os.File, error) {
	read, write, err := os.Pipe()
	if err != nil {
		return nil, nil, err
	}
	raw, err := read.SyscallConn()
	if err != nil {
		read.Close()
		write.Close()
		return nil, nil, err
	}
	return &output{mark: mark, to: to, now: now, read: read, raw: raw, ended: make(chan struct{})}, write, nil
}

// follow hands on what is printed until nobody can print any more.
func (o *output) follow() {
	defer close(o.ended)
	_ = o.raw.Read(o.take)
	o.mutex.Lock()
	defer o.mutex.Unlock()
	if o.line.Len() > 0 {
		o.hand([]byte("\n"))
	}
}

// collect takes in what has been printed so far, so that it carries the time before time moves on.
func (o *output) collect() { _ = o.raw.Control(func(fd uintptr) { o.take(fd) }) }

// take reads what is there, and says whether nothing more can come.
func (o *output) take(fd uintptr) bool {
	o.mutex.Lock()
	defer o.mutex.Unlock()
	for {
		n, err := syscall.Read(int(fd), o.chunk[:])
		switch {
		case err == syscall.EINTR:
			continue
		case err == syscall.EAGAIN:
			return false
		case err != nil || n <= 0:
			return true
		}
		o.taken.Add(int64(n))
		o.hand(o.chunk[:n])
	}
}

// hand passes whole lines on. The caller holds the mutex.
func (o *output) hand(text []byte) {
	for len(text) > 0 {
		if o.line.Len() == 0 {
			fmt.Fprintf(&o.line, "%s %s", stamp(o.now()), o.mark)
		}
		part, rest, whole := bytes.Cut(text, []byte("\n"))
		o.line.Write(part)
		text = rest
		if whole || o.line.Len() > longestLine {
			o.line.WriteByte('\n')
			_, _ = o.to.Write(o.line.Bytes()) // a log that cannot be kept is no reason to end the run
			o.line.Reset()
		}
	}
}

// close gives up on what may still be printed.
func (o *output) close() { o.read.Close() }

// stamp writes a simulated time in one width, so that lines stand below one another.
func stamp(t time.Duration) string {
	ms := t.Milliseconds()
	return fmt.Sprintf("%d:%02d:%02d.%03d", ms/3_600_000, ms/60_000%60, ms/1000%60, ms%1000)
}

package modbus

import (
	"errors"
	"fmt"
	"net"
	"os"
	"sync"
	"syscall"

	"github.com/creack/pty"
	"golang.org/x/sys/unix"
)

// line is a pseudo-terminal. The server has its master, and a client opens its
// terminal by path, as it would a serial port.
type line struct {
	*os.File // the master

	// terminal is held open, so that the line outlives a client and stays raw.
	terminal *os.File
	// closings tells when a client has closed the terminal (inotify).
	closings *os.File
	cleaning sync.Mutex
}

func openLine() (*line, error) {
	master, terminal, err := pty.Open()
	if err != nil {
		return nil, fmt.Errorf("modbus: cannot open a pseudo-terminal; serve RTU over TCP instead, or see that /dev/ptmx is there: %w", err)
	}
	defer master.Close()
	l := &line{terminal: terminal}
	err = control(terminal, makeRaw)
	if err == nil {
		l.File, err = nonBlocking(master)
	}
	if err == nil {
		l.closings, err = watchClosings(terminal.Name())
	}
	if err != nil {
		l.Close()
		return nil, fmt.Errorf("modbus: cannot set up the pseudo-terminal %s: %w", terminal.Name(), err)
	}
	return l, nil
}

// nonBlocking duplicates a file so that Close ends a Read that waits. Without
// it, a goroutine in the Read of a master stays there for good.
func nonBlocking(file *os.File) (*os.File, error) {
	descriptor := -1
	err := control(file, func(fd int) (err error) {
		descriptor, err = unix.FcntlInt(uintptr(fd), unix.F_DUPFD_CLOEXEC, 0)
		return err
	})
	if err != nil {
		return nil, err
	}
	if err := syscall.SetNonblock(descriptor, true); err != nil {
		return nil, errors.Join(err, syscall.Close(descriptor))
	}
	return os.NewFile(uintptr(descriptor), file.Name()), nil
}

// makeRaw has a terminal pass all bytes as they are, without echo.
func makeRaw(fd int) error {
	t, err := unix.IoctlGetTermios(fd, unix.TCGETS)
	if err != nil {
		return err
	}
	t.Iflag &^= unix.IGNBRK | unix.BRKINT | unix.PARMRK | unix.ISTRIP | unix.INLCR | unix.IGNCR | unix.ICRNL | unix.IXON
	t.Oflag &^= unix.OPOST
	t.Lflag &^= unix.ECHO | unix.ECHONL | unix.ICANON | unix.ISIG | unix.IEXTEN
	t.Cflag = t.Cflag&^(unix.CSIZE|unix.PARENB) | unix.CS8
	t.Cc[unix.VMIN], t.Cc[unix.VTIME] = 1, 0
	return unix.IoctlSetTermios(fd, unix.TCSETS, t)
}

func watchClosings(path string) (*os.File, error) {
	descriptor, err := unix.InotifyInit1(unix.IN_NONBLOCK | unix.IN_CLOEXEC)
	if err != nil {
		return nil, err
	}
	if _, err := unix.InotifyAddWatch(descriptor, path, unix.IN_CLOSE); err != nil {
		return nil, errors.Join(err, unix.Close(descriptor))
	}
	return os.NewFile(uintptr(descriptor), "closings of "+path), nil
}

// control lends a file's descriptor, which stays valid during the call.
func control(file *os.File, act func(fd int) error) error {
	raw, err := file.SyscallConn()
	if err != nil {
		return err
	}
	var inner error
	err = raw.Control(func(fd uintptr) { inner = act(int(fd)) })
	return errors.Join(err, inner)
}

// watch forgets what a client has not read when it closes the terminal, as a
// serial port does: the next client must not get its predecessor's reply.
func (l *line) watch() {
	raw, err := l.closings.SyscallConn()
	if err != nil {
		return
	}
	for {
		err := raw.Read(func(fd uintptr) bool { return l.clean(int(fd)) })
		if err != nil {
			return
		}
	}
}

// greet does at once what watch may be late to do. It is called before a reply
// is made, so that watch cannot drop that one.
func (l *line) greet() {
	_ = control(l.closings, func(fd int) error { l.clean(fd); return nil })
}

// clean looks for closings and forgets what was left by them.
func (l *line) clean(fd int) (closed bool) {
	l.cleaning.Lock()
	defer l.cleaning.Unlock()
	var events [4096]byte
	for {
		if n, err := unix.Read(fd, events[:]); n <= 0 || err != nil {
			break
		}
		closed = true
	}
	if closed {
		l.forget()
	}
	return closed
}

// forget drops what no client has read.
func (l *line) forget() {
	_ = control(l.terminal, func(fd int) error { return unix.IoctlSetInt(fd, unix.TCFLSH, unix.TCIFLUSH) })
}

// Close ends the line; a client's next read fails.
func (l *line) Close() error {
	var errs []error
	for _, file := range []*os.File{l.File, l.terminal, l.closings} {
		if file != nil {
			errs = append(errs, file.Close())
		}
	}
	return errors.Join(errs...)
}

// LocalAddr is the terminal's path.
func (l *line) LocalAddr() net.Addr { return lineAddress(l.terminal.Name()) }

// RemoteAddr is the same: a line does not tell who is on it.
func (l *line) RemoteAddr() net.Addr { return l.LocalAddr() }

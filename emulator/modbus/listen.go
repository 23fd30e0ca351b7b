package modbus

import (
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	"syscall"
	"time"
)

// Listen serves the units at a TCP address, such as 127.0.0.1:1502; port 0
// picks a free one.
func Listen(address string, units map[byte]Device, opt Options) (*Server, error) {
	return listenTCP(address, units, opt.withDefaults(), nil)
}

// ListenRTUOverTCP serves the units at a TCP address, in RTU frames. Each
// connection is a line of its own, with all units on it.
func ListenRTUOverTCP(address string, units map[byte]Device, opt RTUOptions) (*Server, error) {
	opt, err := opt.withDefaults(100 * time.Millisecond)
	if err != nil {
		return nil, err
	}
	return listenTCP(address, units, opt.Options, &opt)
}

// ListenRTU serves the units in RTU frames on a pseudo-terminal of its own. The
// path that a client opens, as it would a serial port, is Server.Addr.
func ListenRTU(units map[byte]Device, opt RTUOptions) (*Server, error) {
	opt, err := opt.withDefaults(20 * time.Millisecond)
	if err != nil {
		return nil, err
	}
	s, err := newServer("the line", units, opt.Options, &opt)
	if err != nil {
		return nil, err
	}
	l, err := openLine()
	if err != nil {
		return nil, err
	}
	s.address = l.LocalAddr()
	s.running.Go(l.watch)
	s.admit(l)
	return s, nil
}

// lineAddress is a terminal's path as an address.
type lineAddress string

// Network names the kind of address.
func (lineAddress) Network() string { return "pty" }

// String is the path.
func (a lineAddress) String() string { return string(a) }

func listenTCP(address string, units map[byte]Device, opt Options, rtu *RTUOptions) (*Server, error) {
	s, err := newServer(address, units, opt, rtu)
	if err != nil {
		return nil, err
	}
	listener, err := listen(address, opt.AllowRemote)
	if err != nil {
		return nil, err
	}
	s.address = listener.Addr()
	s.listener = listener
	if opt.TLS != nil {
		s.listener = tls.NewListener(listener, opt.TLS)
	}
	s.running.Go(s.accept)
	return s, nil
}

// newServer checks the units. On a line they have the addresses 1 to 247
// (MODBUS over Serial Line V1.02, 2.2).
func newServer(where string, units map[byte]Device, opt Options, rtu *RTUOptions) (*Server, error) {
	s := &Server{options: opt, rtu: rtu, closing: make(chan struct{}), open: map[*connection]struct{}{}}
	if len(units) == 0 {
		return nil, fmt.Errorf("modbus: no unit to serve at %s; give at least one", where)
	}
	for n := range s.units {
		device, served := units[byte(n)]
		if !served {
			continue
		}
		if device == nil {
			return nil, fmt.Errorf("modbus: unit %d at %s has no device", n, where)
		}
		if rtu != nil && (n == 0 || n > 247) {
			return nil, fmt.Errorf("modbus: unit %d cannot be served as RTU at %s; on a line 0 is all units and 248 to 255 are reserved, so give it 1 to 247", n, where)
		}
		u := &unit{number: byte(n), device: device}
		u.blocker, _ = device.(Blocker)
		s.units[n] = u
		s.ordered = append(s.ordered, u)
	}
	return s, nil
}

// listen opens the port, and says what to do where it cannot.
func listen(address string, allowRemote bool) (net.Listener, error) {
	resolved, err := net.ResolveTCPAddr("tcp", address)
	if err != nil {
		return nil, fmt.Errorf("modbus: %q is no address to listen at; write host:port, such as 127.0.0.1:1502: %w", address, err)
	}
	if !allowRemote && !resolved.IP.IsLoopback() {
		return nil, fmt.Errorf("modbus: %s can be reached from other machines; use a loopback address such as 127.0.0.1:%d, or allow remote clients", address, resolved.Port)
	}
	listener, err := net.ListenTCP("tcp", resolved)
	switch {
	case err == nil:
		return listener, nil
	case errors.Is(err, syscall.EADDRINUSE):
		return nil, fmt.Errorf("modbus: %s is in use: another program listens there; choose another port or stop it: %w", address, err)
	case errors.Is(err, syscall.EACCES):
		return nil, fmt.Errorf("modbus: %s may not be opened by this user; choose a port above 1023: %w", address, err)
	case errors.Is(err, syscall.EADDRNOTAVAIL):
		return nil, fmt.Errorf("modbus: this machine has no address %s; choose one that it has: %w", resolved.IP, err)
	}
	return nil, fmt.Errorf("modbus: cannot listen at %s: %w", address, err)
}

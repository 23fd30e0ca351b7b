package modbus

import (
	"errors"
	"fmt"
	"net"
	"sync"
	"sync/atomic"
	"syscall"
	"time"
)

// Exchange is one request and what was answered. The byte slices are valid
// during the call of Options.Record only.
type Exchange struct {
	Peer     Peer
	Unit     byte
	Function byte
	// Request is the whole frame, with its MBAP header.
	Request []byte
	// Reply is empty if nothing is answered.
	Reply []byte
	// Exception is 0 if the reply is none.
	Exception Exception
	// Ended is ErrClose or ErrReset if the exchange ends the connection.
	Ended error
	// Asked and Answered come from Options.Now.
	Asked, Answered time.Duration
}

// Options tune a server. The zero value is a server on loopback with sane
// limits.
type Options struct {
	// Controller is handed on in Peer.
	Controller int
	// AllowRemote permits an address that other machines can reach.
	AllowRemote bool
	// MaxConnections is the number of clients at once, 64 by default. One more is
	// accepted and closed at once.
	MaxConnections int
	// IdleTimeout is how long a client may say nothing, 10 minutes by default.
	IdleTimeout time.Duration
	// FrameTimeout is how long a request that has begun may take to arrive, 5
	// seconds by default.
	FrameTimeout time.Duration
	// WriteTimeout is how long a client may refuse its replies, 5 seconds by
	// default.
	WriteTimeout time.Duration
	// MaxPipelined is how many replies are gathered before they are sent, 64 by
	// default.
	MaxPipelined int
	// Gate, if not nil, sees each request before it is carried out.
	Gate Gate
	// Record is called for each request, after its reply is made and before the
	// client can see it, by the goroutines of the connections.
	Record func(Exchange)
	// Now is the clock of Exchange.Asked and Answered, such as simulated time.
	Now func() time.Duration
}

func (o Options) withDefaults() Options {
	if o.MaxConnections <= 0 {
		o.MaxConnections = 64
	}
	if o.MaxPipelined <= 0 {
		o.MaxPipelined = 64
	}
	if o.IdleTimeout <= 0 {
		o.IdleTimeout = 10 * time.Minute
	}
	if o.FrameTimeout <= 0 {
		o.FrameTimeout = 5 * time.Second
	}
	if o.WriteTimeout <= 0 {
		o.WriteTimeout = 5 * time.Second
	}
	return o
}

// Stats counts what a server has done so far.
type Stats struct {
	Accepted   uint64 // connections
	Refused    uint64 // connections over the limit
	Open       int    // connections now
	Requests   uint64
	Exceptions uint64
	Dropped    uint64      // frames of another protocol
	Functions  [256]uint64 // requests by function code
}

type counters struct {
	accepted, refused, requests, exceptions, dropped atomic.Uint64
	functions                                        [256]atomic.Uint64
}

// unit is one served device.
type unit struct {
	number  byte
	device  Device
	blocker Blocker    // nil if no address blocks
	masking sync.Mutex // makes a read and a write one mask write
}

func (u *unit) blocks(table Table, w window) bool {
	if u.blocker == nil {
		return false
	}
	for i := range w.quantity {
		if u.blocker.Blocks(table, w.address+uint16(i)) {
			return true
		}
	}
	return false
}

// Server serves units at one TCP address.
type Server struct {
	options  Options
	listener net.Listener
	units    [256]*unit
	ordered  []*unit // ascending
	stats    counters

	closing chan struct{}
	running sync.WaitGroup
	mutex   sync.Mutex // guards open and closed
	open    map[*connection]struct{}
	closed  bool
}

// Listen serves the units at a TCP address, such as 127.0.0.1:1502; port 0
// picks a free one.
func Listen(address string, units map[byte]Device, opt Options) (*Server, error) {
	s := &Server{options: opt.withDefaults(), closing: make(chan struct{}), open: map[*connection]struct{}{}}
	if len(units) == 0 {
		return nil, fmt.Errorf("modbus: no unit to serve at %s; give at least one", address)
	}
	for n := range s.units {
		device, served := units[byte(n)]
		if !served {
			continue
		}
		if device == nil {
			return nil, fmt.Errorf("modbus: unit %d at %s has no device", n, address)
		}
		u := &unit{number: byte(n), device: device}
		u.blocker, _ = device.(Blocker)
		s.units[n] = u
		s.ordered = append(s.ordered, u)
	}
	listener, err := listen(address, opt.AllowRemote)
	if err != nil {
		return nil, err
	}
	s.listener = listener
	s.running.Go(s.accept)
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

// Addr is the address that the server listens at.
func (s *Server) Addr() net.Addr { return s.listener.Addr() }

// Close stops the server: no goroutine and no connection is left when it
// returns. It waits for device calls, which must give up when Peer.Done closes.
func (s *Server) Close() error {
	s.mutex.Lock()
	if s.closed {
		s.mutex.Unlock()
		s.running.Wait()
		return nil
	}
	s.closed = true
	close(s.closing)
	err := s.listener.Close()
	for c := range s.open {
		c.cancel()
	}
	s.mutex.Unlock()
	s.running.Wait()
	return err
}

// Stats is a snapshot of the counters.
func (s *Server) Stats() Stats {
	stats := Stats{
		Accepted:   s.stats.accepted.Load(),
		Refused:    s.stats.refused.Load(),
		Requests:   s.stats.requests.Load(),
		Exceptions: s.stats.exceptions.Load(),
		Dropped:    s.stats.dropped.Load(),
	}
	for i := range stats.Functions {
		stats.Functions[i] = s.stats.functions[i].Load()
	}
	s.mutex.Lock()
	stats.Open = len(s.open)
	s.mutex.Unlock()
	return stats
}

func (s *Server) accept() {
	for {
		conn, err := s.listener.Accept()
		if err != nil {
			// Too many open files passes; a closed listener does not.
			select {
			case <-s.closing:
				return
			case <-time.After(10 * time.Millisecond):
				continue
			}
		}
		s.admit(conn)
	}
}

// admit starts to serve a connection, or closes it if there are too many.
func (s *Server) admit(conn net.Conn) {
	s.mutex.Lock()
	defer s.mutex.Unlock()
	if s.closed || len(s.open) >= s.options.MaxConnections {
		s.stats.refused.Add(1)
		conn.Close()
		return
	}
	c := newConnection(s, s.stats.accepted.Add(1), conn)
	s.open[c] = struct{}{}
	s.running.Go(func() {
		c.serve()
		s.mutex.Lock()
		delete(s.open, c)
		s.mutex.Unlock()
	})
}

// unit finds who answers to a number, or nil.
func (s *Server) unit(number byte) *unit {
	if u := s.units[number]; u != nil {
		return u
	}
	if len(s.ordered) == 1 && (number == 0 || number == 255) {
		return s.ordered[0]
	}
	return nil
}

func (s *Server) now() time.Duration {
	if s.options.Now == nil {
		return 0
	}
	return s.options.Now()
}

func (s *Server) record(exchange Exchange) {
	if s.options.Record == nil {
		return
	}
	exchange.Answered = s.now()
	s.options.Record(exchange)
}

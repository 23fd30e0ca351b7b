package modbus

import (
	"crypto/tls"
	"errors"
	"net"
	"sync"
	"sync/atomic"
	"time"
)

// Stats counts what a server has done so far.
type Stats struct {
	Accepted   uint64 // connections
	Refused    uint64 // connections over the limit
	Open       int    // connections now
	Requests   uint64
	Exceptions uint64
	Dropped    uint64      // frames of another protocol, and what was no frame on a line
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

// Server serves units at one TCP address or on one line.
type Server struct {
	options  Options
	rtu      *RTUOptions // nil unless the framing is RTU
	address  net.Addr
	listener net.Listener // nil on a pseudo-terminal
	faults   [256]atomic.Pointer[Fault]
	units    [256]*unit
	ordered  []*unit // ascending
	stats    counters

	closing chan struct{}
	running sync.WaitGroup
	mutex   sync.Mutex // guards open and closed
	open    map[*connection]struct{}
	closed  bool
}

// Addr is the address that the server listens at, or the path of its line.
func (s *Server) Addr() net.Addr { return s.address }

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
	var err error
	if s.listener != nil {
		err = s.listener.Close()
	}
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
	if s.closed || len(s.open) >= s.options.MaxConnections || s.turnsAway() {
		s.stats.refused.Add(1)
		conn.Close()
		return
	}
	keepShort(conn)
	c := newConnection(s, s.stats.accepted.Add(1), conn)
	s.open[c] = struct{}{}
	s.running.Go(func() {
		c.serve()
		s.mutex.Lock()
		delete(s.open, c)
		s.mutex.Unlock()
	})
}

// keepShort gives a TCP connection small buffers. The system's own hold megabytes: a client that never reads would
// have thousands of replies made for it before the server feels it.
func keepShort(conn net.Conn) {
	if secured, is := conn.(*tls.Conn); is {
		conn = secured.NetConn()
	}
	if tcp, able := conn.(*net.TCPConn); able {
		_ = tcp.SetReadBuffer(16 << 10)
		_ = tcp.SetWriteBuffer(32 << 10)
	}
}

// Reasons why a request has no unit of its own to carry it out.
var (
	errBroadcast = errors.New("modbus: for all units")
	errElsewhere = errors.New("modbus: for a unit that is not on this line")
)

// find says who carries out a request; the error may be an exception.
func (s *Server) find(number, function byte) (*unit, error) {
	switch u := s.units[number]; {
	case u != nil:
		return u, nil
	case s.rtu == nil && !s.options.Gateway && len(s.ordered) == 1 && (number == 0 || number == 255):
		return s.ordered[0], nil
	case number == 0 && isWrite(function):
		return nil, errBroadcast
	case s.rtu != nil:
		return nil, errElsewhere
	case s.options.Gateway:
		return nil, GatewayPathUnavailable
	}
	return nil, GatewayTargetFailed
}

// wait passes time, on the clock that the options name.
func (s *Server) wait(peer Peer, d time.Duration) error {
	if s.options.Wait != nil {
		return s.options.Wait(peer, d)
	}
	return pass(peer, d)
}

// pass passes time on the wall clock.
func pass(peer Peer, d time.Duration) error {
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-timer.C:
		return nil
	case <-peer.Done:
		return ErrClose
	}
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

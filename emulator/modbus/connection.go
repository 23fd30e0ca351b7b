package modbus

import (
	"bufio"
	"crypto/tls"
	"errors"
	"net"
	"os"
	"sync"
	"time"
)

// connection serves one client, in one goroutine.
type connection struct {
	server *Server
	net    net.Conn // nil for a local client
	line   *line    // nil unless net is a pseudo-terminal
	frames framing
	peer   Peer
	done   chan struct{}
	end    sync.Once

	in      *bufio.Reader
	request [maxADU]byte
	asked   int    // how long the request was on a line
	out     []byte // replies that have not left yet
	pending int    // how many requests they answer

	image *image
	bits  [maxReadBits]bool
}

func newConnection(s *Server, number uint64, conn net.Conn) *connection {
	done := make(chan struct{})
	c := &connection{
		server: s,
		net:    conn,
		peer:   Peer{Conn: number, Remote: conn.RemoteAddr().String(), Controller: s.options.Controller, Done: done},
		done:   done,
		in:     bufio.NewReaderSize(conn, 4096),
		image:  newImage(),
	}
	c.line, _ = conn.(*line)
	c.frames = mbap{c}
	switch {
	case s.rtu == nil:
	case s.rtu.ASCII:
		c.frames = newASCII(c)
	default:
		c.frames = newRTU(c, s.rtu.Baud)
	}
	return c
}

// cancel releases a device call that waits, and any read or write.
func (c *connection) cancel() {
	c.end.Do(func() {
		close(c.done)
		if !c.isLocal() {
			c.net.Close()
		}
	})
}

// serve answers until the peer leaves, breaks the framing or is too slow.
func (c *connection) serve() {
	err := c.handshake()
	if err == nil {
		err = c.converse()
	}
	// What was answered before the end still leaves.
	_ = c.flush()
	if errors.Is(err, ErrReset) {
		c.reset()
	}
	c.cancel()
}

// rest is how long a connection pauses after as many replies as are gathered at most.
const rest = 200 * time.Microsecond

func (c *connection) converse() error {
	for {
		adu, err := c.frames.next()
		if err != nil {
			return err
		}
		if err := c.answer(adu); err != nil {
			return err
		}
		full := c.pending >= c.server.options.MaxPipelined
		if full || !c.frames.ready() {
			if err := c.flush(); err != nil {
				return err
			}
		}
		if full {
			// The scheduler looks at the network only when a core has nothing else to do: without a
			// rest, a peer that always has more to ask would keep the others unheard.
			time.Sleep(rest)
		}
	}
}

// handshake begins TLS, where it is asked for.
func (c *connection) handshake() error {
	secured, is := c.net.(*tls.Conn)
	if !is {
		return nil
	}
	if err := c.net.SetDeadline(time.Now().Add(c.server.options.FrameTimeout)); err != nil {
		return err
	}
	return secured.Handshake()
}

// reset makes the coming close a reset.
func (c *connection) reset() {
	conn := c.net
	if secured, is := conn.(*tls.Conn); is {
		conn = secured.NetConn()
		// No farewell may precede the reset, so the layer below closes first.
		defer conn.Close()
	}
	if tcp, able := conn.(*net.TCPConn); able {
		_ = tcp.SetLinger(0)
	}
}

// flush sends all replies that are ready, in one write.
func (c *connection) flush() error {
	c.pending = 0
	if len(c.out) == 0 {
		return nil
	}
	err := c.send(c.out)
	c.out = c.out[:0]
	return err
}

// send writes bytes. On a line they are lost if nobody takes them.
func (c *connection) send(raw []byte) error {
	if err := c.net.SetWriteDeadline(time.Now().Add(c.server.options.WriteTimeout)); err != nil {
		return err
	}
	_, err := c.net.Write(raw)
	if c.line != nil && errors.Is(err, os.ErrDeadlineExceeded) {
		c.line.forget()
		return nil
	}
	return err
}

// answer carries out one request and appends its reply. An error ends the
// connection.
func (c *connection) answer(adu []byte) error {
	s := c.server
	number, function := adu[6], adu[headerLength]
	u, err := s.find(number, function)
	if err == errElsewhere {
		return nil
	}
	s.stats.requests.Add(1)
	s.stats.functions[function].Add(1)
	exchange := Exchange{Peer: c.peer, Unit: number, Function: function, Request: adu, Asked: s.now()}
	if err == errBroadcast {
		c.broadcast(adu)
		s.record(exchange)
		return nil
	}

	answer := reply{transaction: word(adu, 0), unit: number, function: function}
	if u != nil {
		if err = c.enter(exchange); err == nil {
			answer.data, err = c.execute(u, adu)
		}
		number = u.number
	}
	fault := s.faults[number].Load()
	if fault != nil || s.options.Gateway {
		if err = c.delay(fault, err); err == errGone {
			return ErrClose
		}
	}
	var raw RawReply
	switch {
	case err == nil:
	case errors.Is(err, ErrClose), errors.Is(err, ErrReset):
		return c.part(exchange, err)
	case errors.Is(err, ErrNoReply):
		c.pending++
		s.record(exchange)
		return nil
	case errors.As(err, &raw):
	default:
		exchange.Exception = exceptionOf(err)
		s.stats.exceptions.Add(1)
		answer.function |= 0x80
		answer.data = []byte{byte(exchange.Exception)}
	}
	return c.dispatch(answer, raw, fault, exchange)
}

// part ends the connection with an exchange, after the raw bytes that err may have beside it.
func (c *connection) part(exchange Exchange, err error) error {
	var raw RawReply
	if errors.As(err, &raw) {
		before := len(c.out)
		c.out = append(c.out, raw...)
		exchange.Reply = c.out[before:]
	}
	switch {
	case c.line != nil: // a line has nothing to close
	case errors.Is(err, ErrReset):
		exchange.Ended = ErrReset
	default:
		exchange.Ended = ErrClose
	}
	c.server.record(exchange)
	if c.line != nil {
		return nil
	}
	return err
}

// dispatch lays out a reply, or the raw bytes in its place, and records it. It
// leaves with the next flush, unless it drips.
func (c *connection) dispatch(answer reply, raw RawReply, fault *Fault, exchange Exchange) error {
	if fault != nil {
		answer = fault.alter(answer)
	}
	before := len(c.out)
	if raw != nil {
		c.out = append(c.out, raw...)
	} else {
		c.out = c.frames.lay(c.out, answer)
	}
	exchange.Reply = c.out[before:]
	if c.server.rtu != nil && raw == nil && c.server.options.Record != nil {
		exchange.Reply = layMBAP(nil, answer)
	}
	if fault != nil && fault.Spoil.breaksBytes() {
		c.out = c.out[:before+len(fault.spoil(c.out[before:]))]
		exchange.Reply = c.out[before:]
	}
	c.pending++
	if fault != nil && fault.Closes {
		exchange.Ended = c.hangUp()
	}
	c.server.record(exchange)
	if err := c.keepSilence(len(c.out)); err != nil {
		return err
	}
	if fault == nil {
		return nil
	}
	if fault.Drip > 0 {
		if err := c.drip(fault); err != nil {
			return err
		}
	}
	if fault.Closes {
		return c.hangUp()
	}
	return nil
}

// keepSilence parts a reply from its request, as a line must.
func (c *connection) keepSilence(replyLength int) error {
	var between time.Duration
	if framing, is := c.frames.(*rtu); is && c.line != nil {
		between = framing.between
		if err := pass(c.peer, between-time.Since(framing.last)); err != nil {
			return err
		}
	}
	if c.server.rtu == nil || !c.server.rtu.WireTime {
		return nil
	}
	onTheWire := between + characters(float64(c.asked+replyLength), c.server.rtu.Baud)
	return c.hold(func() error { return c.server.wait(c.peer, onTheWire) })
}

// broadcast has every unit execute a write. Nobody hears how it went.
func (c *connection) broadcast(adu []byte) {
	for _, u := range c.server.ordered {
		_, _ = c.execute(u, adu)
	}
}

// perform makes a device call. If the device says that it may block, what is
// ready leaves first and the connection is watched until the call returns.
func (c *connection) perform(u *unit, table Table, w window, call func() error) error {
	if !u.blocks(table, w) {
		return call()
	}
	if c.flush() != nil {
		return ErrClose
	}
	return c.hold(call)
}

// brief is how long a call may take before its connection is watched: most end sooner, and a watch costs more than they.
const brief = 2 * time.Millisecond

// hold watches the connection while a call takes long. A line tells nothing
// about who leaves it, and a local client cannot leave meanwhile.
func (c *connection) hold(call func() error) error {
	if c.line != nil || c.isLocal() {
		return call()
	}
	if err := c.net.SetReadDeadline(time.Time{}); err != nil {
		return ErrClose
	}
	watched := make(chan struct{})
	begin := time.AfterFunc(brief, func() {
		defer close(watched)
		c.watch()
	})
	defer func() {
		if !begin.Stop() {
			_ = c.net.SetReadDeadline(past)
			<-watched
		}
	}()
	return call()
}

// past is a deadline that ends a read at once.
var past = time.Unix(1, 0)

// watch looks for the end of the connection while its goroutine is in a device
// call, and reads ahead as far as the buffer goes. A deadline in the past ends it.
func (c *connection) watch() {
	for {
		_, err := c.in.Peek(c.in.Buffered() + 1)
		switch {
		case err == nil:
		case errors.Is(err, os.ErrDeadlineExceeded), errors.Is(err, bufio.ErrBufferFull):
			return
		default:
			c.cancel()
			return
		}
	}
}

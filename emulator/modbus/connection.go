package modbus

import (
	"bufio"
	"encoding/binary"
	"errors"
	"net"
	"os"
	"sync"
	"time"
)

const (
	headerLength = 7 // MBAP: transaction 2, protocol 2, length 2, unit 1
	prefixLength = 6 // the part of the header that the length does not count
	minLength    = 2 // unit and function
	maxLength    = 1 + maxPDU
	maxADU       = prefixLength + maxLength
)

// connection serves one client, in one goroutine.
type connection struct {
	server *Server
	net    net.Conn
	peer   Peer
	done   chan struct{}
	end    sync.Once

	in      *bufio.Reader
	request [maxADU]byte
	out     []byte // replies that have not left yet
	pending int    // how many requests they answer

	image *image
	bits  [maxReadBits]bool
}

// errFraming ends a connection on which the next frame cannot be found.
var errFraming = errors.New("modbus: a length field that no frame can have")

func newConnection(s *Server, number uint64, conn net.Conn) *connection {
	done := make(chan struct{})
	return &connection{
		server: s,
		net:    conn,
		peer:   Peer{Conn: number, Remote: conn.RemoteAddr().String(), Controller: s.options.Controller, Done: done},
		done:   done,
		in:     bufio.NewReaderSize(conn, 4096),
		image:  newImage(),
	}
}

// cancel releases a device call that waits, and any read or write.
func (c *connection) cancel() {
	c.end.Do(func() {
		close(c.done)
		c.net.Close()
	})
}

// serve answers until the peer leaves, breaks the framing or is too slow.
func (c *connection) serve() {
	err := c.converse()
	// What was answered before the end still leaves.
	_ = c.flush()
	if errors.Is(err, ErrReset) {
		c.reset()
	}
	c.cancel()
}

func (c *connection) converse() error {
	for {
		adu, err := c.next()
		if err != nil {
			return err
		}
		if err := c.answer(adu); err != nil {
			return err
		}
		if !c.ready() || c.pending >= c.server.options.MaxPipelined {
			if err := c.flush(); err != nil {
				return err
			}
		}
	}
}

// reset makes the coming close a reset.
func (c *connection) reset() {
	if tcp, able := c.net.(*net.TCPConn); able {
		_ = tcp.SetLinger(0)
	}
}

// ready says whether the next call of next will not wait.
func (c *connection) ready() bool {
	if c.in.Buffered() < prefixLength {
		return false
	}
	prefix, _ := c.in.Peek(prefixLength)
	length := int(binary.BigEndian.Uint16(prefix[4:]))
	return length < minLength || length > maxLength || c.in.Buffered() >= prefixLength+length
}

// next returns the next frame with protocol identifier 0, in the connection's
// own buffer: the reader may move its buffer while a device call is watched.
func (c *connection) next() ([]byte, error) {
	for {
		if !c.ready() {
			if err := c.await(); err != nil {
				return nil, err
			}
		}
		prefix, err := c.in.Peek(prefixLength)
		if err != nil {
			return nil, err
		}
		length := int(binary.BigEndian.Uint16(prefix[4:]))
		if length < minLength || length > maxLength {
			return nil, errFraming
		}
		frame, err := c.in.Peek(prefixLength + length)
		if err != nil {
			return nil, err
		}
		adu := c.request[:copy(c.request[:], frame)]
		if _, err := c.in.Discard(len(adu)); err != nil {
			return nil, err
		}
		if adu[2] == 0 && adu[3] == 0 {
			return adu, nil
		}
		c.server.stats.dropped.Add(1)
		// Other frames may have been answered before this one in the same burst.
		if !c.ready() {
			if err := c.flush(); err != nil {
				return nil, err
			}
		}
	}
}

// await sets the deadlines under which next may read: a peer may be idle for
// long, but a frame that has begun must arrive soon.
func (c *connection) await() error {
	if c.in.Buffered() == 0 {
		if err := c.deadline(c.server.options.IdleTimeout); err != nil {
			return err
		}
		if _, err := c.in.Peek(1); err != nil {
			return err
		}
		if c.ready() {
			return nil
		}
	}
	return c.deadline(c.server.options.FrameTimeout)
}

func (c *connection) deadline(after time.Duration) error {
	return c.net.SetReadDeadline(time.Now().Add(after))
}

// flush sends all replies that are ready, in one write.
func (c *connection) flush() error {
	c.pending = 0
	if len(c.out) == 0 {
		return nil
	}
	if err := c.net.SetWriteDeadline(time.Now().Add(c.server.options.WriteTimeout)); err != nil {
		return err
	}
	_, err := c.net.Write(c.out)
	c.out = c.out[:0]
	return err
}

// answer carries out one request and appends its reply. An error ends the
// connection.
func (c *connection) answer(adu []byte) error {
	s := c.server
	number, function := adu[6], adu[headerLength]
	s.stats.requests.Add(1)
	s.stats.functions[function].Add(1)
	exchange := Exchange{Peer: c.peer, Unit: number, Function: function, Request: adu, Asked: s.now()}

	u := s.unit(number)
	if u == nil && number == 0 && isWrite(function) {
		c.broadcast(adu)
		s.record(exchange)
		return nil
	}
	var data []byte
	err := error(GatewayTargetFailed)
	if u != nil {
		if err = c.enter(exchange); err == nil {
			data, err = c.execute(u, adu)
		}
	}
	before := len(c.out)
	var raw RawReply
	switch {
	case err == nil:
		c.reply(adu, function, data)
	case errors.Is(err, ErrClose), errors.Is(err, ErrReset):
		if errors.As(err, &raw) {
			c.out = append(c.out, raw...)
			exchange.Reply = c.out[before:]
		}
		exchange.Ended = ErrClose
		if errors.Is(err, ErrReset) {
			exchange.Ended = ErrReset
		}
		s.record(exchange)
		return err
	case errors.Is(err, ErrNoReply):
	case errors.As(err, &raw):
		c.out = append(c.out, raw...)
	default:
		exchange.Exception = exceptionOf(err)
		s.stats.exceptions.Add(1)
		c.reply(adu, function|0x80, []byte{byte(exchange.Exception)})
	}
	c.pending++
	exchange.Reply = c.out[before:]
	s.record(exchange)
	return nil
}

// reply appends a frame with the request's transaction and unit.
func (c *connection) reply(adu []byte, function byte, data []byte) {
	c.out = append(c.out, adu[0], adu[1], 0, 0)
	c.out = binary.BigEndian.AppendUint16(c.out, uint16(2+len(data)))
	c.out = append(c.out, adu[6], function)
	c.out = append(c.out, data...)
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
	stop, err := c.watch()
	if err != nil {
		return ErrClose
	}
	defer stop()
	return call()
}

// watch looks for the end of the connection while its goroutine is in a device
// call, and reads ahead as far as the buffer goes. The returned function ends
// the watch.
func (c *connection) watch() (stop func(), err error) {
	if err := c.net.SetReadDeadline(time.Time{}); err != nil {
		return nil, err
	}
	watched := make(chan struct{})
	go func() {
		defer close(watched)
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
	}()
	return func() {
		_ = c.net.SetReadDeadline(time.Unix(1, 0))
		<-watched
	}, nil
}

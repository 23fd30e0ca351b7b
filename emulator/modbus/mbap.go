package modbus

import (
	"encoding/binary"
	"errors"
	"time"
)

const (
	headerLength = 7 // MBAP: transaction 2, protocol 2, length 2, unit 1
	prefixLength = 6 // the part of the header that the length does not count
	minLength    = 2 // unit and function
	maxLength    = 1 + maxPDU
	maxADU       = prefixLength + maxLength
)

// errFraming ends a connection on which the next frame cannot be found.
var errFraming = errors.New("modbus: a length field that no frame can have")

// framing finds requests on a connection and lays out replies.
type framing interface {
	// next returns the next request as an MBAP frame in the connection's own
	// buffer, whatever the framing on the wire.
	next() ([]byte, error)
	// ready says whether the next call of next will not wait.
	ready() bool
	// lay appends a reply as it goes onto the wire.
	lay(out []byte, r reply) []byte
}

// reply is a reply before it is framed.
type reply struct {
	transaction uint16
	unit        byte
	function    byte
	data        []byte
}

// mbap is the framing of Modbus TCP.
type mbap struct{ *connection }

func (m mbap) ready() bool {
	if m.in.Buffered() < prefixLength {
		return false
	}
	prefix, _ := m.in.Peek(prefixLength)
	length := int(binary.BigEndian.Uint16(prefix[4:]))
	return length < minLength || length > maxLength || m.in.Buffered() >= prefixLength+length
}

// next returns the next frame with protocol identifier 0. It is a copy, since
// the reader may move its buffer while a device call is watched.
func (m mbap) next() ([]byte, error) {
	for {
		if !m.ready() {
			if err := m.await(); err != nil {
				return nil, err
			}
		}
		prefix, err := m.in.Peek(prefixLength)
		if err != nil {
			return nil, err
		}
		length := int(binary.BigEndian.Uint16(prefix[4:]))
		if length < minLength || length > maxLength {
			return nil, errFraming
		}
		frame, err := m.in.Peek(prefixLength + length)
		if err != nil {
			return nil, err
		}
		adu := m.request[:copy(m.request[:], frame)]
		if _, err := m.in.Discard(len(adu)); err != nil {
			return nil, err
		}
		if adu[2] == 0 && adu[3] == 0 {
			return adu, nil
		}
		m.server.stats.dropped.Add(1)
		// Other frames may have been answered before this one in the same burst.
		if !m.ready() {
			if err := m.flush(); err != nil {
				return nil, err
			}
		}
	}
}

// await sets the deadlines under which next may read: a peer may be idle for
// long, but a frame that has begun must arrive soon.
func (m mbap) await() error {
	if m.in.Buffered() == 0 {
		if err := m.deadline(m.server.options.IdleTimeout); err != nil {
			return err
		}
		if _, err := m.in.Peek(1); err != nil {
			return err
		}
		if m.ready() {
			return nil
		}
	}
	return m.deadline(m.server.options.FrameTimeout)
}

func (m mbap) deadline(after time.Duration) error {
	return m.net.SetReadDeadline(time.Now().Add(after))
}

func (m mbap) lay(out []byte, r reply) []byte { return layMBAP(out, r) }

func layMBAP(out []byte, r reply) []byte {
	out = binary.BigEndian.AppendUint16(out, r.transaction)
	out = binary.BigEndian.AppendUint16(append(out, 0, 0), uint16(2+len(r.data)))
	return append(append(out, r.unit, r.function), r.data...)
}

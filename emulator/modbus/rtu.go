package modbus

import (
	"encoding/binary"
	"errors"
	"os"
	"time"
)

const (
	minRTU = 4   // unit, function, checksum
	maxRTU = 256 // MODBUS over Serial Line V1.02, 2.5.1
)

// rtu is the framing of a serial line.
//
// On a line, silence parts the frames. What arrives through a pseudo-terminal
// or TCP has lost its timing: one frame may come in pieces, two in one piece. A
// frame therefore ends where its function says, if the checksum agrees. A pause
// of t3.5 may end it too, and a pause of RTUOptions.Pause must; each is taken
// for the start of another frame. What makes no frame is dropped up to the next
// such start, and never searched for a frame inside it, as it may carry one in
// its data.
type rtu struct {
	*connection
	between time.Duration // t3.5

	starts []int     // where in the reader's buffer a frame may begin, ascending
	seen   int       // how much of the buffer starts account for
	last   time.Time // when the last of it came
	deaf   bool      // until the line falls silent
	expiry time.Time // when a TCP client without a request is sent away
}

func newRTU(c *connection, baud int) *rtu {
	_, between := SilentIntervals(baud)
	return &rtu{connection: c, between: between}
}

// ready is never true: the reply to a request on a line leaves by itself.
func (r *rtu) ready() bool { return false }

func (r *rtu) next() ([]byte, error) {
	r.expiry = time.Now().Add(r.server.options.IdleTimeout)
	silent := false
	for {
		r.account()
		if adu := r.find(silent); adu != nil {
			return adu, nil
		}
		var err error
		if silent, err = r.listen(); err != nil {
			return nil, err
		}
	}
}

// listen waits for more bytes, or for the silence after those that are here.
func (r *rtu) listen() (silent bool, err error) {
	had := r.in.Buffered()
	pausing := had > 0 || r.deaf
	var deadline time.Time
	if r.line == nil {
		deadline = r.expiry
	}
	if pausing {
		if end := time.Now().Add(r.server.rtu.Pause); deadline.IsZero() || end.Before(deadline) {
			deadline = end
		}
	}
	if err := r.net.SetReadDeadline(deadline); err != nil {
		return false, err
	}
	_, err = r.in.Peek(had + 1)
	switch {
	case err == nil:
		if had == 0 && r.line != nil {
			r.line.greet()
		}
		return false, nil
	case pausing && errors.Is(err, os.ErrDeadlineExceeded) && (r.line != nil || time.Now().Before(r.expiry)):
		r.deaf = false
		return true, nil
	}
	return false, err
}

// account notes when bytes came, and where a frame may begin among them.
func (r *rtu) account() {
	buffered := r.in.Buffered()
	if buffered == r.seen {
		return
	}
	now := time.Now()
	if paused := now.Sub(r.last) >= r.between; paused || r.seen == 0 && !r.deaf {
		r.starts = append(r.starts, r.seen)
		r.deaf = false
	}
	r.last = now
	r.seen = buffered
	if r.deaf {
		r.drop(buffered)
	}
}

// drop takes bytes from the front of the buffer, and keeps the starts behind.
func (r *rtu) drop(n int) {
	_, _ = r.in.Discard(n)
	r.seen -= n
	kept := r.starts[:0]
	for _, start := range r.starts {
		if start >= n {
			kept = append(kept, start-n)
		}
	}
	r.starts = kept
}

// find takes the first frame out of the buffer, or returns nil if more must
// come first. Silent says that nothing more belongs to what is here.
func (r *rtu) find(silent bool) []byte {
	for len(r.starts) > 0 {
		r.drop(r.starts[0])
		raw, _ := r.in.Peek(r.seen)
		implied := impliedLength(raw)
		if implied > 0 && implied <= len(raw) && soundRTU(raw[:implied]) {
			return r.take(raw[:implied])
		}
		end, another := len(raw), len(r.starts) > 1
		if another {
			end = r.starts[1]
		}
		if (silent || another) && soundRTU(raw[:end]) {
			return r.take(raw[:end])
		}
		// A pause inside a frame whose end is still to come may be the host's.
		if !silent && len(raw) <= maxRTU && (implied > len(raw) || !another) {
			return nil
		}
		r.server.stats.dropped.Add(1)
		r.drop(end)
		r.deaf = !silent && !another
	}
	return nil
}

// take makes a frame a request. What follows it may be another frame.
func (r *rtu) take(raw []byte) []byte {
	pdu := raw[1 : len(raw)-2]
	adu := append(r.request[:0], 0, 0, 0, 0)
	adu = binary.BigEndian.AppendUint16(adu, uint16(1+len(pdu)))
	adu = append(append(adu, raw[0]), pdu...)
	r.asked = len(raw)
	r.drop(len(raw))
	if r.seen > 0 && (len(r.starts) == 0 || r.starts[0] > 0) {
		r.starts = append([]int{0}, r.starts...)
	}
	return adu
}

func (r *rtu) lay(out []byte, answer reply) []byte {
	return appendRTU(out, answer.unit, answer.function, answer.data)
}

// impliedLength is how long the frame is that begins with raw, as far as its
// function tells: 0 if it does not tell, and more than raw if it will tell when
// more has come.
func impliedLength(raw []byte) int {
	counted := func(at int) int {
		if len(raw) <= at {
			return len(raw) + 1
		}
		return at + 1 + int(raw[at]) + 2
	}
	if len(raw) < 2 {
		return len(raw) + 1
	}
	switch raw[1] {
	case readCoils, readDiscreteInputs, readHoldingRegisters, readInputRegisters, writeSingleCoil, writeSingleRegister:
		return 8
	case writeMultipleCoils, writeMultipleRegisters:
		return counted(6)
	case readWriteRegisters:
		return counted(10)
	case maskWriteRegister:
		return 10
	case readFIFOQueue:
		return 6
	case reportServerID:
		return 4
	case encapsulated:
		if len(raw) > 2 && raw[2] != deviceIdentification {
			return 0
		}
		return 7
	}
	return 0
}

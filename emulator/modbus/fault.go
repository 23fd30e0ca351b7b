package modbus

import (
	"errors"
	"slices"
	"time"
)

// Fault is what a sick link does to the replies of a unit. It acts when a
// request has been carried out, so a spoiled reply to a write does not mean
// that nothing was written. The same reply is spoiled in the same way each time.
type Fault struct {
	// Delay is how long a reply is held back.
	Delay time.Duration
	// Drip is the pause before each byte of a reply but the first.
	Drip time.Duration
	// Patience, if not 0, is how long a reply may drip before the connection is
	// closed, as by a peer that gives up.
	Patience time.Duration
	// Spoil is what becomes of a reply.
	Spoil Spoil
	// Closes ends the connection after each reply.
	Closes bool
}

// Spoil is one way to spoil a reply.
type Spoil uint8

// The ways to spoil a reply.
const (
	// Intact leaves it as it is.
	Intact Spoil = iota
	// WrongTransaction adds one to the transaction identifier; RTU has none.
	WrongTransaction
	// WrongUnit adds one to the unit.
	WrongUnit
	// WrongCount adds one to the byte count of a read, and to the quantity (or to
	// the value) that the reply to a write repeats. An exception has none.
	WrongCount
	// WrongFunction adds one to the function code.
	WrongFunction
	// WrongChecksum flips the last bit of the frame, which in RTU is the
	// checksum's and in TCP the data's.
	WrongChecksum
	// Garbage replaces it with as many other bytes.
	Garbage
	// HalfReply sends the first half only.
	HalfReply
	// NoReply sends nothing. Behind a gateway that is exception 0B.
	NoReply
	// Reset sends nothing and resets the connection; on a line it is NoReply.
	Reset
	// HangUp sends nothing and closes the connection; on a line it is NoReply.
	HangUp
	// CloseOnAccept closes each new connection to the server as soon as it is
	// accepted, whatever its other units do, and is HangUp for one that is open.
	CloseOnAccept
)

// String names the way.
func (s Spoil) String() string {
	names := [...]string{"intact", "wrong transaction", "wrong unit", "wrong count", "wrong function", "wrong checksum",
		"garbage", "half a reply", "no reply", "reset", "hang up", "close on accept"}
	if int(s) < len(names) {
		return names[s]
	}
	return "unknown"
}

// SetFault has a unit's replies suffer a fault from the next one on. The zero
// Fault ends it. A unit that is not served may have one too, for the exceptions
// that answer for it.
func (s *Server) SetFault(unit byte, f Fault) {
	if f == (Fault{}) {
		s.faults[unit].Store(nil)
		return
	}
	s.faults[unit].Store(&f)
}

// turnsAway says whether a fault keeps new connections from being served.
func (s *Server) turnsAway() bool {
	for i := range s.faults {
		if f := s.faults[i].Load(); f != nil && f.Spoil == CloseOnAccept {
			return true
		}
	}
	return false
}

// errGone means that the peer or the server ended during a delay.
var errGone = errors.New("modbus: gone during a delay")

// delay passes the time that a gateway or a fault adds to a request, and
// returns what the request ends with after it. Replies that are ready leave
// first.
func (c *connection) delay(fault *Fault, err error) error {
	var d time.Duration
	if fault != nil {
		err = fault.verdict(err)
		d = fault.Delay
	}
	if c.server.options.Gateway && errors.Is(err, ErrNoReply) {
		err = GatewayTargetFailed
		d += c.server.options.TargetTimeout
	}
	if d > 0 || fault != nil && fault.Drip > 0 {
		if c.flush() != nil {
			return errGone
		}
	}
	if d > 0 && c.hold(func() error { return c.server.wait(c.peer, d) }) != nil {
		return errGone
	}
	return err
}

// verdict turns how a request ended into what the fault makes of it.
func (f *Fault) verdict(err error) error {
	switch f.Spoil {
	case NoReply:
		return ErrNoReply
	case Reset:
		return ErrReset
	case HangUp, CloseOnAccept:
		return ErrClose
	}
	return err
}

// alter changes what a reply says.
func (f *Fault) alter(r reply) reply {
	switch f.Spoil {
	case WrongTransaction:
		r.transaction++
	case WrongUnit:
		r.unit++
	case WrongFunction:
		r.function++
	case WrongCount:
		at := -1
		switch r.function {
		case readCoils, readDiscreteInputs, readHoldingRegisters, readInputRegisters, readWriteRegisters, reportServerID:
			at = 0
		case writeSingleCoil, writeSingleRegister, writeMultipleCoils, writeMultipleRegisters:
			at = 3
		}
		if at >= 0 && at < len(r.data) {
			r.data = slices.Clone(r.data)
			r.data[at]++
		}
	}
	return r
}

// breaksBytes says whether the fault acts on the frame and not on its fields.
func (s Spoil) breaksBytes() bool { return s == Garbage || s == HalfReply || s == WrongChecksum }

// spoil changes the bytes of a frame, in place, and returns what is left.
func (f *Fault) spoil(frame []byte) []byte {
	switch f.Spoil {
	case Garbage:
		for i := range frame {
			frame[i] ^= byte(0xA5 + 31*i)
		}
	case HalfReply:
		return frame[:len(frame)/2]
	case WrongChecksum:
		if len(frame) > 0 {
			frame[len(frame)-1] ^= 1
		}
	}
	return frame
}

// hangUp ends the connection; a line stays.
func (c *connection) hangUp() error {
	if c.line != nil {
		return nil
	}
	return ErrClose
}

// drip sends what is ready byte by byte, as long as the fault has patience. Pauses pass by whole
// grains of the server's clock; what is left of them passes before the last byte. A local client sees nothing of it but the time that
// it takes.
func (c *connection) drip(fault *Fault) error {
	if c.isLocal() {
		return c.dripLocal(fault)
	}
	defer func() { c.out = c.out[:0] }()
	c.pending = 0
	var owed, spent time.Duration
	for i := range c.out {
		if i > 0 {
			owed += fault.Drip
		}
		tired := fault.Patience > 0 && spent+owed >= fault.Patience
		if tired {
			owed = fault.Patience - spent
		}
		passes := owed
		if grain := c.server.options.Grain; grain > 0 && !tired && i < len(c.out)-1 {
			passes -= owed % grain
		}
		if passes > 0 {
			if c.hold(func() error { return c.server.wait(c.peer, passes) }) != nil {
				return ErrClose
			}
			spent, owed = spent+passes, owed-passes
		}
		if tired {
			return c.hangUp()
		}
		if err := c.send(c.out[i : i+1]); err != nil {
			return err
		}
	}
	return nil
}

func (c *connection) dripLocal(fault *Fault) error {
	takes := time.Duration(max(0, len(c.out)-1)) * fault.Drip
	tired := fault.Patience > 0 && takes >= fault.Patience
	if tired {
		takes = fault.Patience
	}
	if err := c.server.wait(c.peer, takes); err != nil || tired {
		return ErrClose
	}
	return nil
}

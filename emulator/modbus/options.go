package modbus

import (
	"crypto/tls"
	"fmt"
	"time"
)

// Exchange is one request and what was answered. The byte slices are valid
// during the call of Options.Record only.
type Exchange struct {
	Peer     Peer
	Unit     byte
	Function byte
	// Request is the whole frame, with its MBAP header. A request that came as
	// RTU has the header that a gateway would give it, with transaction 0.
	Request []byte
	// Reply is what is sent, in the form of Request; it is empty if nothing is
	// answered. Bytes that a fault or a device spoils are given as they are.
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
	// TLS makes it Modbus/TCP Security: each client must complete a handshake
	// before its first request. Nil, the default, is plain Modbus TCP. A bench
	// that asks for client certificates sets ClientAuth; roles inside a
	// certificate are not looked at.
	TLS *tls.Config
	// Gateway makes the server answer as the gateway to a serial line does: a
	// unit that it does not serve with 0A (gateway path unavailable), and one
	// that it serves and that stays silent with 0B (gateway target failed to
	// respond). Units 0 and 255 then stand for no unit.
	Gateway bool
	// TargetTimeout is how long a gateway waits for a silent unit before it
	// answers 0B, none by default.
	TargetTimeout time.Duration
	// MaxConnections is the number of clients at once, 64 by default. One more is
	// accepted and closed at once.
	MaxConnections int
	// IdleTimeout is how long a client may say nothing, 10 minutes by default.
	IdleTimeout time.Duration
	// FrameTimeout is how long a request that has begun may take to arrive, 5
	// seconds by default. The handshake of TLS has as long.
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
	// Wait passes time for TargetTimeout, for the delays of a Fault and for
	// RTUOptions.WireTime, such as simulated time. It gives up with an error when
	// Peer.Done closes. By default the wall clock passes.
	Wait func(Peer, time.Duration) error
	// Grain is what Wait rounds up to a multiple of; the pauses of a drip are gathered
	// into such.
	Grain time.Duration
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

// RTUOptions tune a server on a serial line: a pseudo-terminal, or a TCP
// connection that stands for one.
type RTUOptions struct {
	Options
	// ASCII is the line's other framing in place of RTU. A frame may pause for
	// FrameTimeout then.
	ASCII bool
	// Baud is the speed whose silent intervals are kept, 19200 by default.
	Baud int
	// Pause is how long a frame that has begun may pause. The standard says 1.5
	// characters, which no program on a host can keep; a longer pause than this
	// ends the frame for certain. The default is 20 ms on a pseudo-terminal and
	// 100 ms over TCP, and never less than 3.5 characters.
	Pause time.Duration
	// WireTime holds each reply back for as long as the request and the reply
	// would take on a line of this speed.
	WireTime bool
}

func (o RTUOptions) withDefaults(pause time.Duration) (RTUOptions, error) {
	switch {
	case o.Baud == 0:
		o.Baud = 19200
	case o.Baud < 0:
		return o, fmt.Errorf("modbus: a line cannot have %d baud; use a speed such as 9600 or 19200", o.Baud)
	}
	if o.Pause <= 0 {
		o.Pause = pause
	}
	_, between := SilentIntervals(o.Baud)
	o.Pause = max(o.Pause, between)
	o.Options = o.Options.withDefaults()
	return o, nil
}

// characterBits is the length of an RTU character: start, eight data bits,
// parity (or a second stop bit) and stop.
const characterBits = 11

// characters is how long n characters take.
func characters(n float64, baud int) time.Duration {
	return time.Duration(n * characterBits * float64(time.Second) / float64(baud))
}

// SilentIntervals returns the two intervals of MODBUS over Serial Line V1.02
// (2006), clause 2.5.1.1: the longest pause inside a frame (t1.5) and the
// shortest between frames (t3.5). Above 19200 baud they are fixed.
func SilentIntervals(baud int) (inside, between time.Duration) {
	if baud > 19200 {
		return 750 * time.Microsecond, 1750 * time.Microsecond
	}
	return characters(1.5, baud), characters(3.5, baud)
}

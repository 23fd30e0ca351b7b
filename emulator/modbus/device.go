package modbus

import "fmt"

// Table is one of the four data tables of the Modbus data model.
type Table uint8

// The four tables.
const (
	Coils Table = iota
	DiscreteInputs
	HoldingRegisters
	InputRegisters
)

// String names the table in the specification's words.
func (t Table) String() string {
	switch t {
	case Coils:
		return "coils"
	case DiscreteInputs:
		return "discrete inputs"
	case HoldingRegisters:
		return "holding registers"
	case InputRegisters:
		return "input registers"
	}
	return fmt.Sprintf("table %d", uint8(t))
}

// Peer tells a Device who asks.
type Peer struct {
	// Conn numbers the connections of a server, from 1.
	Conn uint64
	// Remote is the peer's network address.
	Remote string
	// Controller is Options.Controller of the server.
	Controller int
	// Done is closed when the connection or the server ends. A device call that
	// waits must give up then; Server.Close waits for it.
	Done <-chan struct{}
}

// Device answers for one unit. Its methods are called by several goroutines at
// once, one a connection. The slices belong to the server and are valid during
// the call only. dst arrives zeroed. Address and length are inside the address
// space and within the limits of the function.
//
// A method returns nil, an Exception, an error that wraps one (any other error
// is sent as ServerDeviceFailure), or one of ErrClose, ErrReset, ErrNoReply and
// RawReply.
type Device interface {
	ReadRegisters(from Peer, table Table, address uint16, dst []uint16) error
	// WriteRegisters writes holding registers, all or none.
	WriteRegisters(from Peer, address uint16, values []uint16) error
	ReadBits(from Peer, table Table, address uint16, dst []bool) error
	// WriteBits writes coils, all or none.
	WriteBits(from Peer, address uint16, values []bool) error
	// Identification returns the objects 0, 1, 2 ... of function 2B/0E: vendor,
	// product code, revision, and up to four of the regular category. Nil means
	// that the device does not support it, nor function 11.
	Identification() []string
}

// Blocker is implemented by a Device with addresses whose access may take long.
// Replies that are ready leave before such an access, and the end of the
// connection releases it through Peer.Done.
type Blocker interface {
	Blocks(table Table, address uint16) bool
}

// Masker is implemented by a Device that changes a register by masks as one
// step (function 16). Without it the server reads and then writes, which is
// indivisible only against other mask writes to the unit.
type Masker interface {
	MaskRegister(from Peer, address, and, or uint16) error
}

// Queue is implemented by a Device that has first-in-first-out queues of
// registers (function 18). It returns at most 31 values.
type Queue interface {
	ReadQueue(from Peer, address uint16) ([]uint16, error)
}

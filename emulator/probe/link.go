package probe

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"net"
	"syscall"
	"time"

	goburrow "github.com/goburrow/modbus"

	"kilter/emulator/modbus"
	"kilter/emulator/registers"
)

// Reader is all that the rest of the package knows of a device: it can be asked, and cannot be told anything.
type Reader interface {
	// Read returns registers, or for coils and discrete inputs 0 or 1 each.
	Read(ctx context.Context, table registers.Table, address uint16, count int) ([]uint16, error)
	// Identify returns the device's identification: vendor, product code, revision and perhaps more.
	Identify(ctx context.Context) ([]string, error)
}

// The functions of the Modbus application protocol V1.1b3 that only read.
const (
	readCoils     = 0x01
	readDiscretes = 0x02
	readHoldings  = 0x03
	readInputs    = 0x04
	identify      = 0x2B
)

// The most that one request may ask for (clauses 6.1 to 6.4).
const (
	maxRegisters = 125
	maxBits      = 2000
)

// A device that is busy is asked again this often, after this pause.
const (
	busyRetries = 3
	busyPause   = 200 * time.Millisecond
)

// Link is a connection to one unit.
type Link struct {
	handler *goburrow.TCPClientHandler
	unit    byte
	heard   bool // the unit has answered once
}

// Dial connects to an address of host and port. Timeout bounds the connection and each reply.
func Dial(address string, unit byte, timeout time.Duration) (*Link, error) {
	if _, _, err := net.SplitHostPort(address); err != nil {
		return nil, fmt.Errorf("address %q: must be HOST:PORT, such as 192.168.1.20:502", address)
	}
	h := goburrow.NewTCPClientHandler(address)
	h.SlaveId, h.Timeout, h.IdleTimeout = unit, timeout, 0
	if err := h.Connect(); err != nil {
		return nil, unreached(address, timeout, err)
	}
	return &Link{handler: h, unit: unit}, nil
}

// Close ends the connection.
func (l *Link) Close() error { return l.handler.Close() }

// Read implements Reader.
func (l *Link) Read(ctx context.Context, table registers.Table, address uint16, count int) ([]uint16, error) {
	bits := table == registers.Coil || table == registers.Discrete
	limit, size, function := maxRegisters, 2*count, byte(readHoldings)
	switch table {
	case registers.Input:
		function = readInputs
	case registers.Coil:
		limit, size, function = maxBits, (count+7)/8, readCoils
	case registers.Discrete:
		limit, size, function = maxBits, (count+7)/8, readDiscretes
	}
	if count < 1 || count > limit || int(address)+count > 1<<16 {
		return nil, fmt.Errorf("%d %s registers from %d cannot be asked for at once", count, table, address)
	}
	request := binary.BigEndian.AppendUint16(binary.BigEndian.AppendUint16(nil, address), uint16(count))
	reply, err := l.ask(ctx, function, request)
	if err != nil {
		return nil, err
	}
	if len(reply) != 1+size || int(reply[0]) != size {
		return nil, l.resync(fmt.Errorf("%w: %d bytes of data came for %d %s registers from %d", errGarbage, len(reply)-1, count, table, address))
	}
	l.heard = true
	values := make([]uint16, count)
	for i := range values {
		if bits {
			values[i] = uint16(reply[1+i/8]>>(i%8)) & 1
		} else {
			values[i] = binary.BigEndian.Uint16(reply[1+2*i:])
		}
	}
	return values, nil
}

// Identify implements Reader by function 2B/0E, clause 6.21: the basic category, stream access.
func (l *Link) Identify(ctx context.Context) ([]string, error) {
	reply, err := l.ask(ctx, identify, []byte{0x0E, 0x01, 0x00})
	if err != nil {
		return nil, err
	}
	if len(reply) < 6 || reply[0] != 0x0E {
		return nil, l.resync(fmt.Errorf("%w: no device identification", errGarbage))
	}
	l.heard = true
	var objects []string
	rest := reply[6:]
	for range reply[5] {
		if len(rest) < 2 || len(rest) < 2+int(rest[1]) {
			return objects, nil
		}
		objects, rest = append(objects, printable(rest[2:2+rest[1]])), rest[2+int(rest[1]):]
	}
	return objects, nil
}

// ask is the one place where a request leaves.
func (l *Link) ask(ctx context.Context, function byte, data []byte) ([]byte, error) {
	switch function {
	case readCoils, readDiscretes, readHoldings, readInputs, identify:
	default:
		panic(fmt.Sprintf("probe never sends function %02X", function))
	}
	for attempt := 0; ; attempt++ {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		reply, err := l.once(function, data)
		if attempt == 0 && l.heard && errors.Is(err, errHungUp) {
			continue // some devices close the connection after each reply
		}
		if !errors.Is(err, modbus.ServerDeviceBusy) && !errors.Is(err, modbus.Acknowledge) || attempt == busyRetries {
			return reply, err
		}
		select {
		case <-ctx.Done():
		case <-time.After(busyPause):
		}
	}
}

func (l *Link) once(function byte, data []byte) ([]byte, error) {
	request, err := l.handler.Encode(&goburrow.ProtocolDataUnit{FunctionCode: function, Data: data})
	if err != nil {
		return nil, err
	}
	answer, err := l.handler.Send(request)
	if err != nil {
		return nil, l.resync(l.unheard(err))
	}
	if err := l.handler.Verify(request, answer); err != nil {
		return nil, l.resync(fmt.Errorf("%w: %w", errGarbage, err))
	}
	reply, err := l.handler.Decode(answer)
	if err != nil {
		return nil, l.resync(fmt.Errorf("%w: %w", errGarbage, err))
	}
	switch {
	case reply.FunctionCode == function|0x80 && len(reply.Data) == 1:
		code := modbus.Exception(reply.Data[0])
		l.heard = l.heard || !absent(code)
		return nil, code
	case reply.FunctionCode != function:
		return nil, l.resync(fmt.Errorf("%w: function %02X answers a request of function %02X", errGarbage, reply.FunctionCode, function))
	}
	return reply.Data, nil
}

// resync drops the connection after a reply that was late or made no sense, so that what may still come is not taken
// for the answer to the next request, which connects anew.
func (l *Link) resync(err error) error {
	l.handler.Close()
	return err
}

// unheard says in words why no reply came.
func (l *Link) unheard(err error) error {
	var slow net.Error
	switch {
	case errors.As(err, &slow) && slow.Timeout():
		return fmt.Errorf("%w within %v", errSilent, l.handler.Timeout)
	case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF), errors.Is(err, syscall.ECONNRESET), errors.Is(err, syscall.EPIPE):
		return fmt.Errorf("%w: %w", errHungUp, err)
	}
	return fmt.Errorf("%w: %w", errGarbage, err)
}

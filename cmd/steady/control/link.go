package control

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"time"

	"github.com/goburrow/modbus"
)

// Bus reads and writes the registers of one unit. Tables are named as in the
// bench file: holding, input, coil and discrete; a bit is a register of 0 or 1.
type Bus interface {
	Read(table string, address, count uint16) ([]uint16, error)
	Write(table string, address uint16, values []uint16) error
}

// refusal is a Modbus exception: the device answered, but not with what was
// asked for. Every other error of a Bus means that the link is broken.
type refusal struct {
	code byte
	text string
}

func (r *refusal) Error() string { return r.text }

// IsRefusal tells whether a device answered with an exception.
func IsRefusal(err error) bool {
	var r *refusal
	return errors.As(err, &r)
}

// port is one TCP connection or serial line, which all units at an address
// share: a gateway, or a device that takes one client at a time, would refuse a
// second one. It is not safe for use by several goroutines at once.
type port struct {
	io.Closer
	client modbus.Client
	unit   *byte // which the next request is for
}

// link is one unit at a port. This file alone knows the Modbus client.
type link struct {
	*port
	unit byte
}

func newPort(address string, serial bool, timeout time.Duration) *port {
	if serial {
		h := modbus.NewRTUClientHandler(address)
		h.Timeout = timeout
		h.IdleTimeout = 0
		return &port{Closer: h, client: modbus.NewClient(h), unit: &h.SlaveId}
	}
	h := modbus.NewTCPClientHandler(address)
	h.Timeout = timeout
	h.IdleTimeout = 0
	return &port{Closer: h, client: modbus.NewClient(h), unit: &h.SlaveId}
}

func (p *port) close() { _ = p.Close() }

func (l *link) Read(table string, address, count uint16) ([]uint16, error) {
	*l.port.unit = l.unit
	var (
		data []byte
		err  error
		bits bool
	)
	switch table {
	case "holding":
		data, err = l.client.ReadHoldingRegisters(address, count)
	case "input":
		data, err = l.client.ReadInputRegisters(address, count)
	case "coil":
		data, err = l.client.ReadCoils(address, count)
		bits = true
	case "discrete":
		data, err = l.client.ReadDiscreteInputs(address, count)
		bits = true
	default:
		return nil, fmt.Errorf("table %q: must be holding, input, coil or discrete", table)
	}
	if err != nil {
		return nil, l.failed(err)
	}
	want := 2 * int(count)
	if bits {
		want = (int(count) + 7) / 8
	}
	if len(data) != want {
		return nil, l.failed(fmt.Errorf("%d bytes answer a read of %d from %s %d", len(data), count, table, address))
	}
	out := make([]uint16, count)
	for i := range out {
		if bits {
			out[i] = uint16(data[i/8]>>(i%8)) & 1
		} else {
			out[i] = binary.BigEndian.Uint16(data[2*i:])
		}
	}
	return out, nil
}

func (l *link) Write(table string, address uint16, values []uint16) error {
	*l.port.unit = l.unit
	var err error
	switch {
	case table == "coil" && len(values) == 1:
		on := uint16(0)
		if values[0] != 0 {
			on = 0xFF00
		}
		_, err = l.client.WriteSingleCoil(address, on)
	case table == "holding":
		data := make([]byte, 2*len(values))
		for i, v := range values {
			binary.BigEndian.PutUint16(data[2*i:], v)
		}
		_, err = l.client.WriteMultipleRegisters(address, uint16(len(values)), data)
	default:
		return fmt.Errorf("table %q cannot be written", table)
	}
	if err != nil {
		return l.failed(err)
	}
	return nil
}

// failed turns a client's error into a refusal, or closes the connection: a
// late reply on it would answer the next request.
func (p *port) failed(err error) error {
	var e *modbus.ModbusError
	if errors.As(err, &e) {
		return &refusal{code: e.ExceptionCode, text: err.Error()}
	}
	p.close()
	return err
}

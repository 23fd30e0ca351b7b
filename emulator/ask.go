package emulator

import (
	"encoding/binary"
	"fmt"
	"time"

	"kilter/emulator/modbus"
	"kilter/emulator/registers"
)

// line is a client's way to one device.
type line struct {
	name    string
	server  *modbus.Server
	unit    byte
	image   *registers.Image // for its map alone, which never changes
	timeout time.Duration
	local   *modbus.Local
	number  uint16 // of the last transaction
}

// The function codes that a client uses, by table.
var (
	reads  = [...]byte{registers.Holding: 0x03, registers.Input: 0x04, registers.Coil: 0x01, registers.Discrete: 0x02}
	writes = [...]byte{registers.Holding: 0x10, registers.Coil: 0x0F}
)

func (c *Client) read(l *line, p *registers.Point) ([]uint16, error) {
	function := reads[p.Table]
	reply, err := c.ask(l, function, binary.BigEndian.AppendUint16(binary.BigEndian.AppendUint16(nil, p.Address), p.Registers))
	if err != nil {
		return nil, err
	}
	words := make([]uint16, p.Registers)
	if function < 0x03 { // a single bit
		if len(reply) != 2 {
			return nil, c.lost(l)
		}
		words[0] = uint16(reply[1] & 1)
		return words, nil
	}
	if len(reply) != 1+2*len(words) || int(reply[0]) != 2*len(words) {
		return nil, c.lost(l)
	}
	for i := range words {
		words[i] = binary.BigEndian.Uint16(reply[1+2*i:])
	}
	return words, nil
}

func (c *Client) write(l *line, p *registers.Point, words []uint16) error {
	data := binary.BigEndian.AppendUint16(binary.BigEndian.AppendUint16(nil, p.Address), p.Registers)
	if p.Table == registers.Coil {
		data = append(data, 1, byte(words[0]))
	} else {
		data = append(data, byte(2*len(words)))
		for _, w := range words {
			data = binary.BigEndian.AppendUint16(data, w)
		}
	}
	_, err := c.ask(l, writes[p.Table], data)
	return err
}

// headerLength is the length of what stands before the data of a request or a reply: the MBAP header and the function.
const headerLength = mbapLength + 1

// ask sends a request and returns the data of the reply.
func (c *Client) ask(l *line, function byte, data []byte) ([]byte, error) {
	local, err := c.dial(l)
	if err != nil {
		return nil, err
	}
	l.number++
	request := binary.BigEndian.AppendUint16(nil, l.number)
	request = binary.BigEndian.AppendUint16(append(request, 0, 0), uint16(2+len(data)))
	request = append(append(request, l.unit, function), data...)
	reply, err := local.Ask(request)
	switch {
	case c.closed():
		return nil, ErrOver
	case err != nil: // the time that this takes has passed
		c.hangUp(l)
		return nil, fmt.Errorf("%s: %w", l.name, ErrUnanswered)
	case len(reply) <= headerLength, binary.BigEndian.Uint16(reply) != l.number, int(binary.BigEndian.Uint16(reply[4:])) != len(reply)-mbapLength+1,
		reply[mbapLength-1] != l.unit, reply[mbapLength]&^0x80 != function:
		return nil, c.lost(l)
	case reply[mbapLength] != function:
		return nil, fmt.Errorf("%s: %w", l.name, modbus.Exception(reply[headerLength]))
	}
	return reply[headerLength:], nil
}

// lost passes the time until a client gives up a reply that does not come whole, and ends the connection.
func (c *Client) lost(l *line) error {
	c.bench.await(modbus.Peer{Controller: c.controller, Done: c.over}, l.timeout.Milliseconds())
	c.hangUp(l)
	if c.closed() {
		return ErrOver
	}
	return fmt.Errorf("%s: %w", l.name, ErrUnanswered)
}

// dial returns the connection to a device, made anew where the last one has ended.
func (c *Client) dial(l *line) (*modbus.Local, error) {
	c.mutex.Lock()
	defer c.mutex.Unlock()
	if c.closed() {
		return nil, ErrOver
	}
	if l.local == nil {
		local, err := l.server.Local(c.controller)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", l.name, ErrUnanswered)
		}
		l.local = local
	}
	return l.local, nil
}

func (c *Client) hangUp(l *line) {
	c.mutex.Lock()
	defer c.mutex.Unlock()
	l.hangUp()
}

// hangUp ends the connection, if there is one. The caller holds the client's mutex.
func (l *line) hangUp() {
	if l.local != nil {
		l.local.Close()
		l.local = nil
	}
}

package modbus

import "encoding/binary"

// The function codes that the server knows.
const (
	readCoils              = 0x01
	readDiscreteInputs     = 0x02
	readHoldingRegisters   = 0x03
	readInputRegisters     = 0x04
	writeSingleCoil        = 0x05
	writeSingleRegister    = 0x06
	writeMultipleCoils     = 0x0F
	writeMultipleRegisters = 0x10
	reportServerID         = 0x11
	maskWriteRegister      = 0x16
	readWriteRegisters     = 0x17
	readFIFOQueue          = 0x18
	encapsulated           = 0x2B
)

// isWrite says whether a function may be broadcast.
func isWrite(function byte) bool {
	switch function {
	case writeSingleCoil, writeSingleRegister, writeMultipleCoils, writeMultipleRegisters, maskWriteRegister:
		return true
	}
	return false
}

// execute checks one request for one unit and carries it out. The result is the
// reply's data after the function code; it is valid until the next request.
func (c *connection) execute(u *unit, adu []byte) ([]byte, error) {
	pdu := adu[headerLength:]
	switch pdu[0] {
	case readCoils:
		return c.readBits(u, Coils, adu)
	case readDiscreteInputs:
		return c.readBits(u, DiscreteInputs, adu)
	case readHoldingRegisters:
		return c.readRegisters(u, HoldingRegisters, adu)
	case readInputRegisters:
		return c.readRegisters(u, InputRegisters, adu)
	case writeSingleCoil:
		return c.writeCoil(u, adu)
	case writeSingleRegister:
		if len(pdu) != 5 {
			return nil, IllegalDataValue
		}
		return c.writeWindow(u, window{address: word(pdu, 1), quantity: 1}, adu)
	case writeMultipleCoils:
		return c.writeCoils(u, adu)
	case writeMultipleRegisters:
		return c.writeRegisters(u, adu)
	case maskWriteRegister:
		return c.maskWrite(u, pdu)
	case readWriteRegisters:
		return c.readWrite(u, pdu)
	case readFIFOQueue:
		return c.readQueue(u, pdu)
	case reportServerID:
		return reportServer(u, pdu)
	case encapsulated:
		return identify(u, pdu)
	}
	return nil, IllegalFunction
}

func word(pdu []byte, at int) uint16 { return binary.BigEndian.Uint16(pdu[at:]) }

// window is a run of addresses in a table.
type window struct {
	address  uint16
	quantity int
}

func (w window) fits() bool { return int(w.address)+w.quantity <= addressSpace }

// readWindow checks the request of a function that reads (01 to 04).
func readWindow(pdu []byte, limit int) (window, error) {
	if len(pdu) != 5 {
		return window{}, IllegalDataValue
	}
	w := window{word(pdu, 1), int(word(pdu, 3))}
	if w.quantity < 1 || w.quantity > limit {
		return window{}, IllegalDataValue
	}
	if !w.fits() {
		return window{}, IllegalDataAddress
	}
	return w, nil
}

// writeWindow checks the request of a function that writes several values (0F,
// 10); bits is the size of a value.
func writeWindow(pdu []byte, limit, bits int) (window, error) {
	if len(pdu) < 6 {
		return window{}, IllegalDataValue
	}
	w := window{word(pdu, 1), int(word(pdu, 3))}
	count := int(pdu[5])
	if w.quantity < 1 || w.quantity > limit || count != (w.quantity*bits+7)/8 || len(pdu) != 6+count {
		return window{}, IllegalDataValue
	}
	if !w.fits() {
		return window{}, IllegalDataAddress
	}
	return w, nil
}

func (c *connection) readBits(u *unit, table Table, adu []byte) ([]byte, error) {
	w, err := readWindow(adu[headerLength:], maxReadBits)
	if err != nil {
		return nil, err
	}
	bits := c.bits[:w.quantity]
	clear(bits)
	err = c.perform(u, table, w, func() error {
		return u.device.ReadBits(c.peer, table, w.address, bits)
	})
	if err != nil {
		return nil, err
	}
	c.image.setBits(table, bits)
	return c.image.run(adu)
}

// fetch has the device fill the image's window with registers.
func (c *connection) fetch(u *unit, table Table, w window) ([]uint16, error) {
	words := c.image.registers(table, w.quantity)
	clear(words)
	err := c.perform(u, table, w, func() error {
		return u.device.ReadRegisters(c.peer, table, w.address, words)
	})
	return words, err
}

func (c *connection) readRegisters(u *unit, table Table, adu []byte) ([]byte, error) {
	w, err := readWindow(adu[headerLength:], maxReadRegisters)
	if err != nil {
		return nil, err
	}
	if _, err := c.fetch(u, table, w); err != nil {
		return nil, err
	}
	return c.image.run(adu)
}

func (c *connection) writeCoil(u *unit, adu []byte) ([]byte, error) {
	pdu := adu[headerLength:]
	if len(pdu) != 5 {
		return nil, IllegalDataValue
	}
	// Any value but these two is illegal and leaves the coil alone (clause 6.5).
	if value := word(pdu, 3); value != 0xFF00 && value != 0x0000 {
		return nil, IllegalDataValue
	}
	return c.storeBits(u, window{address: word(pdu, 1), quantity: 1}, adu)
}

func (c *connection) writeCoils(u *unit, adu []byte) ([]byte, error) {
	w, err := writeWindow(adu[headerLength:], maxWriteBits, 1)
	if err != nil {
		return nil, err
	}
	return c.storeBits(u, w, adu)
}

func (c *connection) storeBits(u *unit, w window, adu []byte) ([]byte, error) {
	reply, err := c.image.run(adu)
	if err != nil {
		return nil, err
	}
	bits := c.bits[:w.quantity]
	c.image.coils(bits)
	err = c.perform(u, Coils, w, func() error {
		return u.device.WriteBits(c.peer, w.address, bits)
	})
	return reply, err
}

func (c *connection) writeRegisters(u *unit, adu []byte) ([]byte, error) {
	w, err := writeWindow(adu[headerLength:], maxWriteRegisters, 16)
	if err != nil {
		return nil, err
	}
	return c.writeWindow(u, w, adu)
}

func (c *connection) writeWindow(u *unit, w window, adu []byte) ([]byte, error) {
	reply, err := c.image.run(adu)
	if err != nil {
		return nil, err
	}
	return reply, c.store(u, w, c.image.registers(HoldingRegisters, w.quantity))
}

func (c *connection) store(u *unit, w window, values []uint16) error {
	return c.perform(u, HoldingRegisters, w, func() error {
		return u.device.WriteRegisters(c.peer, w.address, values)
	})
}

// maskWrite is function 16: (current AND and) OR (or AND NOT and), clause 6.16.
func (c *connection) maskWrite(u *unit, pdu []byte) ([]byte, error) {
	if len(pdu) != 7 {
		return nil, IllegalDataValue
	}
	w := window{address: word(pdu, 1), quantity: 1}
	and, or := word(pdu, 3), word(pdu, 5)
	if masker, able := u.device.(Masker); able {
		err := c.perform(u, HoldingRegisters, w, func() error {
			return masker.MaskRegister(c.peer, w.address, and, or)
		})
		return pdu[1:], err
	}
	// A register that may block is not worth a lock on which others would wait.
	if !u.blocks(HoldingRegisters, w) {
		u.masking.Lock()
		defer u.masking.Unlock()
	}
	words, err := c.fetch(u, HoldingRegisters, w)
	if err != nil {
		return nil, err
	}
	words[0] = words[0]&and | or&^and
	return pdu[1:], c.store(u, w, words)
}

// readWrite is function 17. The write comes first (clause 6.17), but both
// windows are tried before it, so that a refused request has no effect.
func (c *connection) readWrite(u *unit, pdu []byte) ([]byte, error) {
	if len(pdu) < 10 {
		return nil, IllegalDataValue
	}
	read := window{word(pdu, 1), int(word(pdu, 3))}
	write := window{word(pdu, 5), int(word(pdu, 7))}
	count := int(pdu[9])
	if read.quantity < 1 || read.quantity > maxReadRegisters ||
		write.quantity < 1 || write.quantity > maxReadWriteWords ||
		count != 2*write.quantity || len(pdu) != 10+count {
		return nil, IllegalDataValue
	}
	if !read.fits() || !write.fits() {
		return nil, IllegalDataAddress
	}
	if _, err := c.fetch(u, HoldingRegisters, read); err != nil {
		return nil, err
	}
	if err := c.store(u, write, wordsOf(pdu[10:])); err != nil {
		return nil, err
	}
	words, err := c.fetch(u, HoldingRegisters, read)
	if err != nil {
		return nil, err
	}
	return append([]byte{byte(2 * len(words))}, bytesOf(words)...), nil
}

// readQueue is function 18, clause 6.18.
func (c *connection) readQueue(u *unit, pdu []byte) ([]byte, error) {
	queue, able := u.device.(Queue)
	if !able {
		return nil, IllegalFunction
	}
	if len(pdu) != 3 {
		return nil, IllegalDataValue
	}
	values, err := queue.ReadQueue(c.peer, word(pdu, 1))
	if err != nil {
		return nil, err
	}
	if len(values) > 31 {
		return nil, IllegalDataValue
	}
	reply := binary.BigEndian.AppendUint16(nil, uint16(2+2*len(values)))
	reply = binary.BigEndian.AppendUint16(reply, uint16(len(values)))
	return append(reply, bytesOf(values)...), nil
}

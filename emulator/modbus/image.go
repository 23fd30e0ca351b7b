package modbus

import (
	"bytes"
	"encoding/binary"

	"github.com/tbrandon/mbserver"
)

// Limits of the specification, clause 6, per request.
const (
	maxReadBits       = 2000
	maxReadRegisters  = 125
	maxWriteBits      = 1968
	maxWriteRegisters = 123
	maxReadWriteWords = 121
)

// addressSpace is the number of addresses of a table.
const addressSpace = 1 << 16

// classicHandlers are the library's functions, by function code.
var classicHandlers = [...]func(*mbserver.Server, mbserver.Framer) ([]byte, *mbserver.Exception){
	readCoils:              mbserver.ReadCoils,
	readDiscreteInputs:     mbserver.ReadDiscreteInputs,
	readHoldingRegisters:   mbserver.ReadHoldingRegisters,
	readInputRegisters:     mbserver.ReadInputRegisters,
	writeSingleCoil:        mbserver.WriteSingleCoil,
	writeSingleRegister:    mbserver.WriteHoldingRegister,
	writeMultipleCoils:     mbserver.WriteMultipleCoils,
	writeMultipleRegisters: mbserver.WriteHoldingRegisters,
}

// image is the window of one request, as the library's handlers see it: entry 0
// is the request's starting address. It is as long as the largest request.
type image struct {
	server mbserver.Server
}

func newImage() *image {
	return &image{server: mbserver.Server{
		DiscreteInputs:   make([]byte, maxReadBits),
		Coils:            make([]byte, maxReadBits),
		HoldingRegisters: make([]uint16, maxReadRegisters),
		InputRegisters:   make([]uint16, maxReadRegisters),
	}}
}

func (m *image) registers(table Table, quantity int) []uint16 {
	if table == InputRegisters {
		return m.server.InputRegisters[:quantity]
	}
	return m.server.HoldingRegisters[:quantity]
}

func (m *image) setBits(table Table, values []bool) {
	target := m.server.Coils
	if table == DiscreteInputs {
		target = m.server.DiscreteInputs
	}
	for i, on := range values {
		target[i] = 0
		if on {
			target[i] = 1
		}
	}
}

func (m *image) coils(dst []bool) {
	for i := range dst {
		dst[i] = m.server.Coils[i] != 0
	}
}

// run has the library handle a request whose every field has been checked. For
// a read it encodes the image, for a write it decodes into it. The result is the
// reply's data after the function code, and may share memory with adu.
//
// The starting address is 0 while the handler runs and is put back before the
// result is used, because the handlers of writes echo it from the request.
func (m *image) run(adu []byte) ([]byte, error) {
	frame, err := mbserver.NewTCPFrame(adu)
	if err != nil {
		return nil, ServerDeviceFailure
	}
	start := frame.Data[:2]
	address := binary.BigEndian.Uint16(start)
	binary.BigEndian.PutUint16(start, 0)
	data, exception := classicHandlers[frame.Function](&m.server, frame)
	binary.BigEndian.PutUint16(start, address)
	// The library hands out pointers to variables; only the values mean anything.
	if *exception != mbserver.Success {
		return nil, Exception(*exception)
	}
	return data, nil
}

func wordsOf(data []byte) []uint16 { return mbserver.BytesToUint16(data) }

func bytesOf(words []uint16) []byte { return mbserver.Uint16ToBytes(words) }

// The library fills its table of checksums on first use, without a lock that
// its readers heed. It is filled here, before there is any goroutine.
var _ = (&mbserver.RTUFrame{}).Bytes()

// soundRTU says whether raw is a whole RTU frame with the right checksum. The
// library knows none without data, which function 11 has: there its sum is
// compared.
func soundRTU(raw []byte) bool {
	if len(raw) < minRTU || len(raw) > maxRTU {
		return false
	}
	if len(raw) == minRTU {
		return bytes.Equal(raw, appendRTU(nil, raw[0], raw[1], nil))
	}
	_, err := mbserver.NewRTUFrame(raw)
	return err == nil
}

// appendRTU appends an RTU frame with its checksum.
func appendRTU(out []byte, unit, function byte, data []byte) []byte {
	return append(out, (&mbserver.RTUFrame{Address: unit, Function: function, Data: data}).Bytes()...)
}

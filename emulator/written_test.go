package emulator

import (
	"testing"

	. "github.com/onsi/gomega"
)

// FuzzWritten takes requests apart that no client should send: nothing may panic, and no more values
// come out than the request has bits.
func FuzzWritten(f *testing.F) {
	f.Add(byte(0x10), []byte{2, 3, 0, 1, 2, 4, 210})
	f.Add(byte(0x17), []byte{0, 0, 0, 1, 2, 3, 0, 1, 2, 4, 210})
	f.Add(byte(0x0F), []byte{0, 1, 255, 255, 1, 5})
	f.Add(byte(0x05), []byte{0, 1, 255, 0})
	f.Add(byte(0x16), []byte{0, 1, 0, 255, 1, 0})
	f.Fuzz(func(t *testing.T, function byte, data []byte) {
		g := NewWithT(t)
		_, values := written(function, data)
		g.Expect(len(values)).To(BeNumerically("<=", 8*len(data)))
	})
}

func TestWritten(t *testing.T) {
	g := NewWithT(t)
	for _, c := range []struct {
		function byte
		data     []byte
		register uint16
		values   []uint16
	}{
		// The examples of the MODBUS Application Protocol V1.1b3, clauses 6.5, 6.6, 6.11, 6.12, 6.16 and 6.17.
		{0x05, []byte{0x00, 0xAC, 0xFF, 0x00}, 172, []uint16{1}},
		{0x06, []byte{0x00, 0x01, 0x00, 0x03}, 1, []uint16{3}},
		{0x0F, []byte{0x00, 0x13, 0x00, 0x0A, 0x02, 0xCD, 0x01}, 19, []uint16{1, 0, 1, 1, 0, 0, 1, 1, 1, 0}},
		{0x10, []byte{0x00, 0x01, 0x00, 0x02, 0x04, 0x00, 0x0A, 0x01, 0x02}, 1, []uint16{10, 258}},
		{0x16, []byte{0x00, 0x04, 0x00, 0xF2, 0x00, 0x25}, 4, []uint16{0xF2, 0x25}},
		{0x17, []byte{0x00, 0x03, 0x00, 0x06, 0x00, 0x0E, 0x00, 0x03, 0x06, 0x00, 0xFF, 0x00, 0xFF, 0x00, 0xFF}, 14, []uint16{255, 255, 255}},
		{0x10, []byte{0x00, 0x01}, 1, nil},
		{0x10, nil, 0, nil},
	} {
		register, values := written(c.function, c.data)
		g.Expect(register).To(Equal(c.register))
		g.Expect(values).To(Equal(c.values))
	}
}

package modbus_test

import (
	"net"
	"testing"
	"time"

	"kilter/emulator/modbus"
)

// guarded is a device that checks what the server promises to a device.
type guarded struct {
	*memory
	t *testing.T
}

func (g *guarded) window(address uint16, count, limit int) {
	if count < 1 || count > limit || int(address)+count > 65536 {
		g.t.Errorf("the device is asked for %d values from %d", count, address)
	}
}

func (g *guarded) ReadRegisters(from modbus.Peer, table modbus.Table, address uint16, dst []uint16) error {
	g.window(address, len(dst), 125)
	for _, value := range dst {
		if value != 0 {
			g.t.Errorf("dst has an old value, %d", value)
		}
	}
	return g.memory.ReadRegisters(from, table, address, dst)
}

func (g *guarded) WriteRegisters(from modbus.Peer, address uint16, values []uint16) error {
	g.window(address, len(values), 123)
	return g.memory.WriteRegisters(from, address, values)
}

func (g *guarded) ReadBits(from modbus.Peer, table modbus.Table, address uint16, dst []bool) error {
	g.window(address, len(dst), 2000)
	return g.memory.ReadBits(from, table, address, dst)
}

func (g *guarded) WriteBits(from modbus.Peer, address uint16, values []bool) error {
	g.window(address, len(values), 1968)
	return g.memory.WriteBits(from, address, values)
}

// FuzzPDU sends any PDU in a good frame. Each must have exactly one reply: the
// function with data that agree with its own count, or an exception of clause
// 7; and the device must only ever be asked for what the specification allows.
func FuzzPDU(f *testing.F) {
	for _, pdu := range wireExamples {
		f.Add(bytesOf(pdu))
	}
	f.Add(several(0x10, 123, 246))
	f.Add(several(0x0F, 1968, 246))
	f.Add(quantity(0x01, 2000))
	f.Add(bytesOf("03 FF FF 00 02"))

	device := &guarded{memory: newMemory(65536)}
	device.queue = []uint16{1, 2}
	server, err := modbus.Listen("127.0.0.1:0", map[byte]modbus.Device{1: device}, modbus.Options{})
	if err != nil {
		f.Fatal(err)
	}
	f.Cleanup(func() { _ = server.Close() })

	f.Fuzz(func(t *testing.T, pdu []byte) {
		if len(pdu) < 1 || len(pdu) > 253 {
			return
		}
		device.t = t
		near, far := net.Pipe()
		server.Admit(far)
		defer near.Close()
		if err := near.SetDeadline(time.Now().Add(5 * time.Second)); err != nil {
			t.Fatal(err)
		}
		// A second request shows that the first has had one reply, and only one.
		burst := append(frame(1, 1, pdu), frame(2, 1, bytesOf("83"))...)
		go func() { _, _ = near.Write(burst) }()
		buffer := make([]byte, 1024)
		n := 0
		for n < 18 || n < 9+6+int(buffer[4])<<8+int(buffer[5]) {
			got, err := near.Read(buffer[n:])
			if err != nil {
				t.Fatalf("% X ends the connection after % X: %v", pdu, buffer[:n], err)
			}
			n += got
		}
		length := int(buffer[4])<<8 + int(buffer[5])
		reply, rest := buffer[7:6+length], buffer[6+length:n]
		if string(rest) != string(bytesOf("00 02 00 00 00 03 01 83 01")) {
			t.Fatalf("after the reply to % X comes % X", pdu, rest)
		}
		// replyLength counts a unit and a checksum, which a PDU has not.
		framed := append(append([]byte{1}, reply...), 0, 0)
		switch {
		case reply[0] == pdu[0]|0x80 && len(reply) == 2 && reply[1] >= 1 && reply[1] <= 4:
		case reply[0] == pdu[0] && reply[0] < 0x80 && replyLength(framed) == len(framed):
		default:
			t.Fatalf("% X is answered with % X", pdu, reply)
		}
	})
}

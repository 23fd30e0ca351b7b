package modbus_test

import (
	"bytes"
	"encoding/binary"
	"io"
	"net"
	"testing"
	"time"

	"kilter/emulator/modbus"
)

// FuzzStream feeds a server any bytes in any two segments. Whatever comes, the
// server must not panic, each frame that it sends must be well formed, and it
// must still answer another client.
func FuzzStream(f *testing.F) {
	for _, pdu := range wireExamples {
		f.Add(frame(1, 1, bytesOf(pdu)), uint16(5))
		f.Add(append(frame(1, 0, bytesOf(pdu)), frame(2, 9, bytesOf(pdu))...), uint16(20))
	}
	f.Add(bytesOf("00 01 00 01 00 06 01 03 00 00 00 01"), uint16(0))
	f.Add(bytesOf("00 01 00 00 00 01 01"), uint16(6))
	f.Add(bytesOf("00 01 00 00 FF FF 01 03"), uint16(7))

	// A pipe, unlike a socket, keeps its memory until the last deadline that it was given, closed or not.
	server, err := modbus.Listen("127.0.0.1:0",
		map[byte]modbus.Device{1: newMemory(100), 2: plain{newMemory(100)}, 9: watched{newMemory(100)}},
		modbus.Options{IdleTimeout: 5 * time.Second})
	if err != nil {
		f.Fatal(err)
	}
	f.Cleanup(func() { _ = server.Close() })

	f.Fuzz(func(t *testing.T, stream []byte, cut uint16) {
		near, far := net.Pipe()
		server.Admit(far)
		if err := near.SetDeadline(time.Now().Add(5 * time.Second)); err != nil {
			t.Fatal(err)
		}
		sent := make(chan struct{})
		go func() {
			defer close(sent)
			at := min(int(cut), len(stream))
			// The tail completes any frame that the stream leaves open and then breaks
			// the framing, so that the server ends the connection.
			tail := bytes.Repeat([]byte{0xFF}, 300)
			for _, part := range [][]byte{stream[:at], stream[at:], tail} {
				if _, err := near.Write(part); err != nil {
					return
				}
			}
		}()
		for {
			prefix := make([]byte, 6)
			_, err := io.ReadFull(near, prefix)
			if err == io.EOF {
				break
			}
			if err != nil {
				t.Fatalf("the server neither replies nor hangs up: %v", err)
			}
			length := int(binary.BigEndian.Uint16(prefix[4:]))
			if prefix[2] != 0 || prefix[3] != 0 || length < 3 || length > 254 {
				t.Fatalf("the reply begins % X", prefix)
			}
			if _, err := io.ReadFull(near, make([]byte, length)); err != nil {
				t.Fatalf("a reply that begins % X is cut short: %v", prefix, err)
			}
		}
		near.Close()
		<-sent

		near, far = net.Pipe()
		server.Admit(far)
		defer near.Close()
		if err := near.SetDeadline(time.Now().Add(5 * time.Second)); err != nil {
			t.Fatal(err)
		}
		if _, err := near.Write(frame(7, 1, bytesOf("03 00 00 00 01"))); err != nil {
			t.Fatal(err)
		}
		sane := make([]byte, 11)
		if _, err := io.ReadFull(near, sane); err != nil || string(sane[:9]) != string(bytesOf("00 07 00 00 00 05 01 03 02")) {
			t.Fatalf("a sane read got % X, %v", sane, err)
		}
	})
}

// watched is a device that declares a blocking address and answers at once, so
// that a stream exercises the watch.
type watched struct{ *memory }

func (watched) Blocks(_ modbus.Table, address uint16) bool { return address == 1 }

package modbus_test

import (
	"bytes"
	"errors"
	"io"
	"net"
	"os"
	"testing"
	"time"

	"kilter/emulator/modbus"
)

// wireExamples are requests of every function, good and bad, as seeds.
var wireExamples = []string{
	"01 00 00 00 13", "02 00 00 00 16", "03 00 00 00 03", "04 00 08 00 01", "05 00 0C FF 00", "06 00 01 00 03",
	"0F 00 13 00 0A 02 CD 01", "10 00 01 00 02 04 00 0A 01 02", "16 00 04 00 F2 00 25",
	"17 00 03 00 06 00 0E 00 03 06 00 FF 00 FF 00 FF", "18 04 DE", "11", "2B 0E 01 00", "2B 0E 02 05", "2B", "0F 00", "83",
}

// FuzzRTUStream feeds a line any bytes in any two pieces. Whatever comes, the
// server must not panic, all that it sends must be whole frames of its units
// with the right checksum, and after a silence it must answer a read.
func FuzzRTUStream(f *testing.F) {
	for _, pdu := range wireExamples {
		one := sealed(append([]byte{1}, bytesOf(pdu)...))
		f.Add(one, uint16(3))
		f.Add(append(bytes.Clone(one), sealed(append([]byte{9}, bytesOf(pdu)...))...), uint16(len(one)))
		f.Add(append(bytesOf("00 FF 01"), one...), uint16(3))
		f.Add(sealed(append([]byte{0}, bytesOf(pdu)...)), uint16(0))
	}
	f.Add(bytes.Repeat([]byte{1}, 600), uint16(300))

	const pause = 2 * time.Millisecond
	server, err := modbus.ListenRTUOverTCP("127.0.0.1:0",
		map[byte]modbus.Device{1: newMemory(100), 2: plain{newMemory(100)}, 9: watched{newMemory(100)}},
		modbus.RTUOptions{Options: modbus.Options{IdleTimeout: 5 * time.Second}, Baud: 115200, Pause: pause})
	if err != nil {
		f.Fatal(err)
	}
	f.Cleanup(func() { _ = server.Close() })

	f.Fuzz(func(t *testing.T, stream []byte, cut uint16) {
		near, far := net.Pipe()
		server.Admit(far)
		defer near.Close()
		at := min(int(cut), len(stream))
		sent := make(chan error, 1)
		go func() {
			for _, part := range [][]byte{stream[:at], stream[at:]} {
				if len(part) == 0 {
					continue
				}
				if _, err := near.Write(part); err != nil {
					sent <- err
					return
				}
			}
			sent <- nil
		}()
		// What comes until the line is silent are replies, one after the other.
		var got []byte
		buffer := make([]byte, 4096)
		quiet := func(limit time.Duration) {
			for {
				if err := near.SetReadDeadline(time.Now().Add(limit)); err != nil {
					t.Fatal(err)
				}
				n, err := near.Read(buffer)
				got = append(got, buffer[:n]...)
				if errors.Is(err, os.ErrDeadlineExceeded) {
					return
				}
				if err != nil {
					t.Fatalf("the server hangs up: %v", err)
				}
			}
		}
		for begun, done := time.Now(), false; !done; {
			select {
			case err := <-sent:
				if err != nil {
					t.Fatal(err)
				}
				done = true
			default:
				if time.Since(begun) > 5*time.Second {
					t.Fatal("the server does not read on")
				}
			}
			quiet(2 * pause)
		}
		for rest := got; len(rest) > 0; {
			n := replyLength(rest)
			if n > len(rest) || n == 0 || !bytes.Equal(sealed(rest[:n-2]), rest[:n]) {
				t.Fatalf("% X is no reply; all that came is % X", rest, got)
			}
			if unit := rest[0]; unit != 1 && unit != 2 && unit != 9 {
				t.Fatalf("% X is of a unit that is not there", rest[:n])
			}
			rest = rest[n:]
		}

		want := sealed(bytesOf("02 83 02"))
		for range 20 { // the host may have been busy, so that the silence was lost on the server
			got = nil
			if err := near.SetWriteDeadline(time.Now().Add(5 * time.Second)); err != nil {
				t.Fatal(err)
			}
			if _, err := near.Write(sealed(bytesOf("02 03 00 64 00 01"))); err != nil {
				t.Fatal(err)
			}
			if err := near.SetReadDeadline(time.Now().Add(20 * pause)); err != nil {
				t.Fatal(err)
			}
			n, _ := io.ReadFull(near, buffer[:len(want)])
			if got = buffer[:n]; bytes.Equal(got, want) {
				return
			}
			quiet(5 * pause)
		}
		t.Fatalf("a sane read got % X", got)
	})
}

// replyLength is the length of the reply frame at the beginning of raw, 0 if
// there is none.
func replyLength(raw []byte) int {
	if len(raw) < 5 {
		return 0
	}
	switch function := raw[1]; {
	case function >= 0x80:
		return 5
	case function <= 0x04, function == 0x17, function == 0x11:
		return 3 + int(raw[2]) + 2
	case function == 0x05, function == 0x06, function == 0x0F, function == 0x10:
		return 8
	case function == 0x16:
		return 10
	case function == 0x18:
		return 4 + int(raw[2])<<8 + int(raw[3]) + 2
	case function == 0x2B && len(raw) > 7:
		at := 8
		for range raw[7] {
			if at+1 >= len(raw) {
				return 0
			}
			at += 2 + int(raw[at+1])
		}
		return at + 2
	}
	return 0
}

// FuzzRTUFrames has the framing alone hear any bytes with any pauses, which is
// faster than a server that must wait for them. Each request must lie in the
// bytes, in order and with its checksum, and a good frame between two silences
// must be heard, whatever came before it.
func FuzzRTUFrames(f *testing.F) {
	for _, pdu := range wireExamples {
		one := sealed(append([]byte{1}, bytesOf(pdu)...))
		f.Add(one, bytesOf("03 00"))
		f.Add(append(bytesOf("00 FF 01"), one...), bytesOf("03 01"))
		f.Add(append(bytes.Clone(one), one...), bytesOf("04 02"))
	}
	f.Add(bytes.Repeat([]byte{1}, 3000), bytesOf("FF 00 FF 01"))
	f.Fuzz(func(t *testing.T, stream, cuts []byte) {
		if len(stream) > 8000 {
			return
		}
		// Two bytes of cuts are a piece: how long it is, and the pause after it.
		const giveUp = 20 * time.Millisecond
		pauses := []time.Duration{0, 5 * time.Millisecond, giveUp}
		var pieces []modbus.Piece
		var pause time.Duration
		rest := stream
		for ; len(cuts) >= 2 && len(rest) > 0; cuts = cuts[2:] {
			n := min(int(cuts[0]), len(rest))
			pieces = append(pieces, modbus.Piece{Pause: pause, Bytes: rest[:n]})
			rest, pause = rest[n:], pauses[int(cuts[1])%len(pauses)]
		}
		pieces = append(pieces, modbus.Piece{Pause: pause, Bytes: rest})
		good := sealed(bytesOf("05 10 00 05 00 01 02 BE EF"))
		pieces = append(pieces, modbus.Piece{Pause: giveUp, Bytes: good})

		found := modbus.RequestsIn(pieces, giveUp)
		if len(found) == 0 || !bytes.Equal(found[len(found)-1], good[:len(good)-2]) {
			t.Fatalf("the good frame after a silence is not heard; heard were % X", found)
		}
		for _, request := range found[:len(found)-1] {
			frame := sealed(request)
			at := bytes.Index(stream, frame)
			if at < 0 {
				t.Fatalf("% X is no frame in % X", frame, stream)
			}
			stream = stream[at+len(frame):]
		}
	})
}

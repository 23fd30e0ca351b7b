package modbus_test

import (
	"io"
	"net"
	"testing"

	"kilter/emulator/modbus"
)

// BenchmarkRoundTrip compares reads of ten registers with a bare TCP echo that
// carries as many bytes each way: the share of the machine's limit that the
// server reaches.
func BenchmarkRoundTrip(b *testing.B) {
	request := frame(1, 1, bytesOf("03 00 00 00 0A"))
	for _, flight := range []struct {
		name  string
		depth int
	}{{"one in flight", 1}, {"eight in flight", 8}} {
		b.Run("echo/"+flight.name, func(b *testing.B) {
			listener, err := net.Listen("tcp", "127.0.0.1:0")
			if err != nil {
				b.Fatal(err)
			}
			defer listener.Close()
			go func() {
				conn, err := listener.Accept()
				if err != nil {
					return
				}
				defer conn.Close()
				buffer := make([]byte, 4096)
				reply := make([]byte, 4096)
				for {
					n, err := conn.Read(buffer)
					if err != nil {
						return
					}
					if _, err := conn.Write(reply[:n/len(request)*replySize]); err != nil {
						return
					}
				}
			}()
			roundTrips(b, listener.Addr().String(), request, flight.depth)
		})
		b.Run("server/"+flight.name, func(b *testing.B) {
			server, err := modbus.Listen("127.0.0.1:0", map[byte]modbus.Device{1: newMemory(100)}, modbus.Options{})
			if err != nil {
				b.Fatal(err)
			}
			defer server.Close()
			roundTrips(b, server.Addr().String(), request, flight.depth)
		})
	}
}

const replySize = 9 + 20

// roundTrips sends depth requests in one write and waits for all replies.
func roundTrips(b *testing.B, address string, request []byte, depth int) {
	conn, err := net.Dial("tcp", address)
	if err != nil {
		b.Fatal(err)
	}
	defer conn.Close()
	var burst []byte
	for range depth {
		burst = append(burst, request...)
	}
	replies := make([]byte, depth*replySize)
	b.ReportAllocs()
	b.ResetTimer()
	for range b.N / depth {
		if _, err := conn.Write(burst); err != nil {
			b.Fatal(err)
		}
		if _, err := io.ReadFull(conn, replies); err != nil {
			b.Fatal(err)
		}
	}
}

package modbus_test

import (
	"fmt"
	"io"
	"net"
	"sync"
	"testing"
	"time"

	"kilter/emulator/modbus"
)

// BenchmarkRoundTrip reads ten registers and compares the server with a bare TCP
// echo that carries as many bytes each way, at the same time of the same run:
// "share" is how much of the machine's limit the server reaches. The goals are
// 0.85 with one request in flight and 0.7 with eight.
func BenchmarkRoundTrip(b *testing.B) {
	for _, connections := range []int{1, 10, 100} {
		for _, depth := range []int{1, 8} {
			b.Run(fmt.Sprintf("%d connections, %d in flight", connections, depth), func(b *testing.B) {
				share(b, connections, depth, modbus.Options{MaxConnections: connections})
			})
		}
	}
	// What a record of the traffic costs, if it only counts.
	b.Run("10 connections, 1 in flight, recorded", func(b *testing.B) {
		var mutex sync.Mutex
		bytes := 0
		share(b, 10, 1, modbus.Options{Record: func(e modbus.Exchange) {
			mutex.Lock()
			bytes += len(e.Request) + len(e.Reply)
			mutex.Unlock()
		}})
	})
}

const replySize = 9 + 20

// share drives both in turn, in slices that are short beside the time in which
// the machine's load changes.
func share(b *testing.B, connections, depth int, options modbus.Options) {
	echo := serveEcho(b)
	server, err := modbus.Listen("127.0.0.1:0", map[byte]modbus.Device{1: newMemory(100)}, options)
	if err != nil {
		b.Fatal(err)
	}
	defer server.Close()
	bare, ours := newCrowd(b, echo, connections, depth), newCrowd(b, server.Addr().String(), connections, depth)
	slice := max(connections*depth*20, 2000)
	bare.ask(b, slice/10)
	ours.ask(b, slice/10)

	var onBare, onOurs time.Duration
	b.ResetTimer()
	for done := 0; done < b.N; done += slice {
		n := min(slice, b.N-done)
		b.StopTimer()
		begun := time.Now()
		bare.ask(b, n)
		onBare += time.Since(begun)
		b.StartTimer()
		begun = time.Now()
		ours.ask(b, n)
		onOurs += time.Since(begun)
	}
	b.StopTimer()
	b.ReportMetric(float64(onBare)/float64(onOurs), "share")
	b.ReportMetric(float64(onBare)/float64(b.N), "echo-ns/op")
}

// serveEcho answers each request's worth of bytes with a reply's worth.
func serveEcho(b *testing.B) (address string) {
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { _ = listener.Close() })
	go func() {
		for {
			conn, err := listener.Accept()
			if err != nil {
				return
			}
			go func() {
				defer conn.Close()
				buffer := make([]byte, 4096)
				reply := make([]byte, 4096)
				for {
					n, err := conn.Read(buffer)
					if err != nil {
						return
					}
					if _, err := conn.Write(reply[:n/len(tenRegisters)*replySize]); err != nil {
						return
					}
				}
			}()
		}
	}()
	return listener.Addr().String()
}

var tenRegisters = frame(1, 1, bytesOf("03 00 00 00 0A"))

// crowd is a number of clients that all ask at once.
type crowd struct {
	conns []net.Conn
	burst []byte
	depth int
}

func newCrowd(b *testing.B, address string, connections, depth int) *crowd {
	c := &crowd{depth: depth}
	for range depth {
		c.burst = append(c.burst, tenRegisters...)
	}
	for range connections {
		conn, err := net.Dial("tcp", address)
		if err != nil {
			b.Fatal(err)
		}
		b.Cleanup(func() { _ = conn.Close() })
		c.conns = append(c.conns, conn)
	}
	return c
}

// ask has the clients share about n requests, each sending depth of them in one
// write and waiting for all replies.
func (c *crowd) ask(b *testing.B, n int) {
	var all sync.WaitGroup
	rounds := max(1, n/(len(c.conns)*c.depth))
	for _, conn := range c.conns {
		all.Go(func() {
			replies := make([]byte, c.depth*replySize)
			for range rounds {
				if _, err := conn.Write(c.burst); err != nil {
					b.Error(err)
					return
				}
				if _, err := io.ReadFull(conn, replies); err != nil {
					b.Error(err)
					return
				}
			}
		})
	}
	all.Wait()
}

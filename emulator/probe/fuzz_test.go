package probe_test

import (
	"context"
	"encoding/json"
	"net"
	"testing"
	"time"

	. "github.com/onsi/gomega"

	"kilter/emulator/probe"
	"kilter/emulator/registers/sunspec"
)

// FuzzDecode decodes any registers as any model: no panic, no point outside the registers, and JSON can carry it.
func FuzzDecode(f *testing.F) {
	for _, id := range sunspec.IDs() {
		f.Add(id, []byte{0, 1, 0, 66, 255, 255})
	}
	f.Add(uint16(705), append([]byte{2, 193, 0, 100, 0, 1, 0, 0, 0, 1, 0, 4, 0, 9}, make([]byte, 180)...))
	f.Add(uint16(714), append([]byte{2, 202, 0, 100, 0, 0, 0, 0, 255, 254}, make([]byte, 180)...))
	f.Fuzz(func(t *testing.T, id uint16, data []byte) {
		g := NewWithT(t)
		words := make([]uint16, len(data)/2)
		for i := range words {
			words[i] = uint16(data[2*i])<<8 | uint16(data[2*i+1])
		}
		m := probe.Decode(id, words)
		for i := range m.Points {
			p := &m.Points[i]
			g.Expect(int(p.Address)+int(p.Registers)).To(BeNumerically("<=", len(words)), p.Name)
			_ = p.Text()
		}
		_, err := json.Marshal(m)
		g.Expect(err).NotTo(HaveOccurred())
	})
}

// FuzzReply answers each request with any bytes: the look ends, with an error or without.
func FuzzReply(f *testing.F) {
	f.Add([]byte{0, 1, 0, 0, 0, 7, 1, 3, 4, 0x53, 0x75, 0x6E, 0x53})
	f.Add([]byte{0, 1, 0, 0, 0, 3, 1, 0x83, 2})
	f.Add([]byte{0, 1, 0, 0, 0, 1, 1})
	f.Add([]byte{0, 1, 0, 0, 0xFF, 0xFF, 1, 3, 255})
	f.Fuzz(func(t *testing.T, reply []byte) {
		g := NewWithT(t)
		listener, err := net.Listen("tcp", "127.0.0.1:0")
		g.Expect(err).NotTo(HaveOccurred())
		defer listener.Close()
		go func() {
			for {
				c, err := listener.Accept()
				if err != nil {
					return
				}
				go func() {
					defer c.Close()
					for range 8 {
						h, _, err := request(c)
						if err != nil {
							return
						}
						out := append([]byte(nil), reply...)
						copy(out, h[:2]) // the right transaction, so that more of the client is reached
						if _, err := c.Write(out); err != nil {
							return
						}
					}
				}()
			}
		}()
		l, err := probe.Dial(listener.Addr().String(), 1, 10*time.Second)
		g.Expect(err).NotTo(HaveOccurred())
		defer l.Close()
		l.Patience(10 * time.Millisecond)
		ctx, cancel := context.WithTimeout(context.Background(), 200*time.Millisecond)
		defer cancel()
		_, _ = probe.Look(ctx, l, probe.Request{})
	})
}

package probe_test

import (
	"context"
	"io"
	"net"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator/modbus"
	"kilter/emulator/probe"
	"kilter/emulator/registers"
)

var _ = Describe("What cannot be read", func() {
	soon := func(address string, unit byte, patience time.Duration) error {
		GinkgoHelper()
		l, err := probe.Dial(address, unit, patience)
		if err != nil {
			return err
		}
		defer l.Close()
		_, err = probe.Look(context.Background(), l, probe.Request{})
		return err
	}

	It("is told when nothing listens", func() {
		listener, err := net.Listen("tcp", "127.0.0.1:0")
		Expect(err).NotTo(HaveOccurred())
		address := listener.Addr().String()
		Expect(listener.Close()).To(Succeed())
		Expect(soon(address, 1, 10*time.Second)).To(MatchError(ContainSubstring("connection refused: the host is there, and nothing listens on that port")))
	})

	It("is told when the address is none", func() {
		Expect(soon("127.0.0.1", 1, time.Second)).To(MatchError(ContainSubstring("must be HOST:PORT")))
	})

	It("is told when no reply comes, with the advice to try another unit", func() {
		address := peer(func(c net.Conn) { _, _ = io.Copy(io.Discard, c) })
		Expect(soon(address, 7, 50*time.Millisecond)).To(MatchError(MatchRegexp("connected, and no reply within 50ms to unit 7: .* try another --unit")))
	})

	It("is told when the unit is not there", func() {
		address, _ := serve(&memory{})
		Expect(soon(address, 9, 10*time.Second)).To(MatchError(ContainSubstring(
			"no unit 9 answers behind this address: exception 0B (gateway target device failed to respond); try another --unit")))
	})

	It("is told when the device is no SunSpec device, with what stands at each place", func() {
		d := holding(40000, 1, 2)
		d.cells[modbus.HoldingRegisters][0], d.cells[modbus.HoldingRegisters][1] = 0xABCD, 0
		address, _ := serve(d)
		Expect(soon(address, 1, 10*time.Second)).To(MatchError(ContainSubstring(
			"(at 40000 stands 0001 0002, at 0 stands ABCD 0000, at 50000 exception 02 (illegal data address)); if you have its register list")))
	})

	DescribeTable("is told when the other end does not speak Modbus", func(treat func(net.Conn), want string) {
		Expect(soon(peer(treat), 1, 5*time.Second)).To(MatchError(ContainSubstring(want)))
	},
		Entry("hangs up", func(c net.Conn) {}, "is this a Modbus device, and is unit 1 right?"),
		Entry("greets in text", func(c net.Conn) { _, _ = c.Write([]byte("220 welcome to this server, stranger\r\n")) }, "is this a Modbus device?"),
		Entry("repeats the request", func(c net.Conn) { _, _ = io.Copy(c, c) }, "is this a Modbus device?"),
	)

	It("is asked for again while the device is busy", func() {
		n := 0
		address := peer(func(c net.Conn) {
			for {
				h, pdu, err := request(c)
				if err != nil {
					return
				}
				reply := []byte{pdu[0] | 0x80, 0x06}
				if n++; n > 2 {
					reply = []byte{pdu[0] | 0x80, 0x02}
				}
				h[5] = byte(1 + len(reply))
				_, _ = c.Write(append(h, reply...))
			}
		})
		Expect(soon(address, 1, 10*time.Second)).To(MatchError(ContainSubstring("at 40000 exception 02 (illegal data address)")))
		Expect(n).To(Equal(5))
	})

	image := registers.NewImage(registers.SunSpecBattery(3), registers.Options{})

	It("comes with what was read before, when the device dies in the middle", func() {
		address := peer(func(c net.Conn) {
			for answer(c, image, 40180) {
			}
		})
		r, err := probe.Look(context.Background(), dial(address), probe.Request{})
		Expect(err).NotTo(HaveOccurred())
		Expect(r.Chain.Models).To(HaveLen(4))
		Expect(r.Chain.Remarks).To(ConsistOf(ContainSubstring("the connection was closed in place of a reply")))
	})

	It("is asked for again by a new connection where the device closes each after one reply", func() {
		address := peer(func(c net.Conn) { answer(c, image, 0xFFFF) })
		r, err := probe.Look(context.Background(), dial(address), probe.Request{})
		Expect(err).NotTo(HaveOccurred())
		Expect(r.Chain.Models).To(HaveLen(9))
		Expect(r.Chain.Remarks).To(BeEmpty())
	})
})

// answer reads one request for holding registers up to an address and answers it from an image. It is false where
// the connection is to be closed.
func answer(c net.Conn, image *registers.Image, last uint16) bool {
	h, pdu, err := request(c)
	if err != nil || pdu[0] != 0x03 {
		return false
	}
	from, words := uint16(pdu[1])<<8|uint16(pdu[2]), make([]uint16, pdu[4])
	if from > last || image.Read(registers.Holding, from, words) != nil {
		return false
	}
	reply := []byte{pdu[0], byte(2 * len(words))}
	for _, w := range words {
		reply = append(reply, byte(w>>8), byte(w))
	}
	h[4], h[5] = 0, byte(1+len(reply))
	_, err = c.Write(append(h, reply...))
	return err == nil
}

package modbus_test

import (
	"bytes"
	"io"
	"maps"
	"slices"
	"syscall"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator/modbus"
)

var _ = Describe("a fault on a TCP link", func() {
	var device *memory
	var server *modbus.Server
	var client wire
	read := frame(0x0102, 1, bytesOf("03 00 00 00 02"))
	BeforeEach(func() {
		device = newMemory(100)
		copy(device.holding, []uint16{0x1111, 0x2222})
		server = serve(map[byte]modbus.Device{1: device, 2: newMemory(10)}, modbus.Options{})
		client = dial(server)
	})
	// clear ends the fault and sees that the link is well again.
	clear := func() {
		GinkgoHelper()
		server.SetFault(1, modbus.Fault{})
		for range 2 {
			client.send(read)
			Expect(client.receive()).To(Equal(bytesOf("01 02 00 00 00 07 01 03 04 11 11 22 22")))
		}
		fresh := dial(server)
		fresh.send(read)
		Expect(fresh.receive()).To(Equal(bytesOf("01 02 00 00 00 07 01 03 04 11 11 22 22")))
	}
	// expectBytes reads exactly these.
	expectBytes := func(want []byte) {
		GinkgoHelper()
		got := make([]byte, len(want))
		_, err := io.ReadFull(client, got)
		Expect(err).NotTo(HaveOccurred())
		Expect(got).To(Equal(want))
	}

	DescribeTable("spoils the bytes of a reply",
		func(spoil modbus.Spoil, request, want string) {
			server.SetFault(1, modbus.Fault{Spoil: spoil})
			for range 3 {
				client.send(bytesOf(request))
				expectBytes(bytesOf(want))
				// The other unit behind the address is well.
				client.send(frame(9, 2, bytesOf("03 00 00 00 01")))
				expectBytes(bytesOf("00 09 00 00 00 05 02 03 02 00 00"))
			}
			clear()
		},
		Entry(nil, modbus.Intact, "0102 0000 0006 01 03 0000 0002", "0102 0000 0007 01 03 04 1111 2222"),
		Entry(nil, modbus.WrongTransaction, "0102 0000 0006 01 03 0000 0002", "0103 0000 0007 01 03 04 1111 2222"),
		Entry(nil, modbus.WrongTransaction, "FFFF 0000 0006 01 03 00FF 0002", "0000 0000 0003 01 83 02"),
		Entry(nil, modbus.WrongUnit, "0102 0000 0006 01 03 0000 0002", "0102 0000 0007 02 03 04 1111 2222"),
		Entry(nil, modbus.WrongFunction, "0102 0000 0006 01 03 0000 0002", "0102 0000 0007 01 04 04 1111 2222"),
		Entry(nil, modbus.WrongCount, "0102 0000 0006 01 03 0000 0002", "0102 0000 0007 01 03 05 1111 2222"),
		Entry(nil, modbus.WrongCount, "0102 0000 0006 01 06 0009 00FE", "0102 0000 0006 01 06 0009 00FF"),
		Entry(nil, modbus.WrongCount, "0102 0000 0009 01 10 0009 0001 02 0007", "0102 0000 0006 01 10 0009 0002"),
		Entry(nil, modbus.WrongCount, "0102 0000 0006 01 03 00FF 0002", "0102 0000 0003 01 83 02"),
		Entry(nil, modbus.WrongChecksum, "0102 0000 0006 01 03 0000 0002", "0102 0000 0007 01 03 04 1111 2223"),
		Entry(nil, modbus.HalfReply, "0102 0000 0006 01 03 0000 0002", "0102 0000 0007"),
	)

	It("sends garbage, the same each time", func() {
		server.SetFault(1, modbus.Fault{Spoil: modbus.Garbage})
		var seen [2][13]byte
		for i := range seen {
			client.send(read)
			_, err := io.ReadFull(client, seen[i][:])
			Expect(err).NotTo(HaveOccurred())
		}
		Expect(seen[0]).To(Equal(seen[1]))
		Expect(bytes.Contains(seen[0][:], bytesOf("1111"))).To(BeFalse())
		clear()
	})

	It("carries out a write whose reply is lost", func() {
		server.SetFault(1, modbus.Fault{Spoil: modbus.NoReply})
		client.send(frame(1, 1, bytesOf("06 00 05 00 09")))
		Eventually(func() uint16 { return device.register(5) }).Should(Equal(uint16(9)))
		clear()
	})

	It("hangs up, or resets", func() {
		server.SetFault(1, modbus.Fault{Spoil: modbus.HangUp})
		client.send(read)
		client.expectEnd()
		server.SetFault(1, modbus.Fault{Spoil: modbus.Reset})
		client = dial(server)
		client.send(read)
		_, err := client.Read(make([]byte, 1))
		Expect(err).To(MatchError(syscall.ECONNRESET))
		client = dial(server)
		clear()
	})

	It("closes each connection as soon as it is accepted, and an open one at its next request", func() {
		client.send(read)
		client.receive()
		server.SetFault(1, modbus.Fault{Spoil: modbus.CloseOnAccept})
		for range 3 {
			fresh := dial(server)
			_, err := fresh.Read(make([]byte, 1))
			Expect(err).To(MatchError(io.EOF))
		}
		client.send(read)
		client.expectEnd()
		Expect(server.Stats().Refused).To(Equal(uint64(3)))
		server.SetFault(1, modbus.Fault{})
		client = dial(server)
		clear()
	})

	It("delays a reply and drips it, on the clock that the options name, and nobody else's", func() {
		waits := make(chan time.Duration, 100)
		goOn := make(chan struct{})
		server = serve(map[byte]modbus.Device{1: device, 2: newMemory(10)}, modbus.Options{
			Wait: func(from modbus.Peer, d time.Duration) error {
				waits <- d
				select {
				case <-goOn:
					return nil
				case <-from.Done:
					return modbus.ErrClose
				}
			}})
		client = dial(server)
		server.SetFault(1, modbus.Fault{Delay: time.Hour, Drip: time.Minute})
		client.send(append(frame(9, 2, bytesOf("03 00 00 00 01")), read...))
		expectBytes(bytesOf("00 09 00 00 00 05 02 03 02 00 00"))
		Expect(<-waits).To(Equal(time.Hour))
		other := dial(server)
		other.send(frame(9, 2, bytesOf("03 00 00 00 01")))
		Expect(other.receive()).To(HaveLen(11))
		goOn <- struct{}{}
		reply := bytesOf("01 02 00 00 00 07 01 03 04 11 11 22 22")
		for i := range reply {
			expectBytes(reply[i : i+1])
			if i < len(reply)-1 {
				Expect(<-waits).To(Equal(time.Minute))
				goOn <- struct{}{}
			}
		}
		clear()
		// A client that leaves ends the wait.
		server.SetFault(1, modbus.Fault{Delay: time.Hour})
		other.send(read)
		Expect(<-waits).To(Equal(time.Hour))
		open := server.Stats().Open
		other.Close()
		Eventually(func() int { return server.Stats().Open }).Should(Equal(open - 1))
		clear()
	})

	It("delays on the wall clock by default", func() {
		server.SetFault(1, modbus.Fault{Delay: 60 * time.Millisecond, Drip: time.Millisecond})
		asked := time.Now()
		client.send(read)
		Expect(client.receive()).To(HaveLen(13))
		Expect(time.Since(asked)).To(BeNumerically(">=", 72*time.Millisecond))
		clear()
	})

	It("does not keep a server from closing", func() {
		server.SetFault(1, modbus.Fault{Delay: time.Hour})
		client.send(read)
		Eventually(func() uint64 { return server.Stats().Requests }).Should(Equal(uint64(1)))
		Expect(server.Close()).To(Succeed())
	})

	It("is recorded as it was sent", func() {
		records := make(chan []byte, 10)
		server = serve(map[byte]modbus.Device{1: device}, modbus.Options{
			Record: func(e modbus.Exchange) { records <- bytes.Clone(e.Reply) }})
		client = dial(server)
		for _, spoil := range []modbus.Spoil{modbus.WrongUnit, modbus.HalfReply, modbus.Garbage} {
			server.SetFault(1, modbus.Fault{Spoil: spoil})
			client.send(read)
			expectBytes(<-records)
		}
		server.SetFault(1, modbus.Fault{Spoil: modbus.NoReply})
		client.send(read)
		Expect(<-records).To(BeEmpty())
		server.SetFault(1, modbus.Fault{})
		client.send(read)
		expectBytes(<-records)
	})

	It("has a name in words", func() {
		seen := map[string]bool{}
		for spoil := range modbus.CloseOnAccept + 1 {
			seen[spoil.String()] = true
		}
		Expect(seen).To(HaveLen(12))
		Expect(modbus.Spoil(99).String()).To(Equal("unknown"))
	})

	It("makes a silent unit of a gateway 0B, and touches the exceptions of a missing one", func() {
		server = serve(map[byte]modbus.Device{1: device, 2: newMemory(10)}, modbus.Options{Gateway: true})
		client = dial(server)
		server.SetFault(1, modbus.Fault{Spoil: modbus.NoReply})
		server.SetFault(9, modbus.Fault{Spoil: modbus.WrongTransaction})
		client.send(read)
		Expect(client.receive()).To(Equal(bytesOf("01 02 00 00 00 03 01 83 0B")))
		client.send(frame(1, 9, bytesOf("03 00 00 00 02")))
		Expect(client.receive()).To(Equal(bytesOf("00 02 00 00 00 03 09 83 0A")))
		clear()
	})
})

var _ = Describe("a fault on a line", func() {
	for _, how := range slices.Sorted(maps.Keys(wires)) {
		DescribeTable("spoils a reply "+how, func(spoil modbus.Spoil, want string, seal bool) {
			server := serveRTU(how, map[byte]modbus.Device{0x11: newMemory(10), 0x12: newMemory(10)})
			server.SetFault(0x11, modbus.Fault{Spoil: spoil})
			client := open(server)
			reply := bytesOf(want)
			if seal {
				reply = sealed(reply)
			}
			for range 2 {
				client.send(sealed(bytesOf("11 03 00 00 00 01")))
				client.expect(reply)
				client.expectNothing()
				client.send(sealed(bytesOf("12 03 00 00 00 01")))
				client.expect(sealed(bytesOf("12 03 02 00 00")))
			}
			server.SetFault(0x11, modbus.Fault{})
			client.expectSane()
		},
			Entry(nil, modbus.WrongTransaction, "11 03 02 00 00", true),
			Entry(nil, modbus.WrongUnit, "12 03 02 00 00", true),
			Entry(nil, modbus.WrongFunction, "11 04 02 00 00", true),
			Entry(nil, modbus.WrongCount, "11 03 03 00 00", true),
			Entry(nil, modbus.WrongChecksum, "11 03 02 00 00 79 86", false),
			Entry(nil, modbus.HalfReply, "11 03 02", false),
			Entry(nil, modbus.NoReply, "", false),
		)
	}

	It("is silence where a connection would end", func() {
		server := serveRTU(pseudoTerminal, map[byte]modbus.Device{0x11: newMemory(10)})
		client := open(server)
		for _, spoil := range []modbus.Spoil{modbus.Reset, modbus.HangUp, modbus.CloseOnAccept} {
			server.SetFault(0x11, modbus.Fault{Spoil: spoil})
			client.send(sealed(bytesOf("11 03 00 00 00 01")))
			client.expectNothing()
			server.SetFault(0x11, modbus.Fault{})
			client.expectSane()
		}
	})

	It("delays and drips", func() {
		server := serveRTU(pseudoTerminal, map[byte]modbus.Device{0x11: newMemory(10)})
		client := open(server)
		server.SetFault(0x11, modbus.Fault{Delay: 40 * time.Millisecond, Drip: 5 * time.Millisecond})
		asked := time.Now()
		client.expectSane()
		Expect(time.Since(asked)).To(BeNumerically(">=", 70*time.Millisecond))
		server.SetFault(0x11, modbus.Fault{})
		client.expectSane()
	})
})

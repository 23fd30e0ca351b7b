package modbus_test

import (
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator/modbus"
)

// The source of 0A and 0B is the MODBUS Application Protocol Specification
// V1.1b3, clause 7; that a silent unit is 0B at once is this package's choice.
var _ = Describe("a gateway", func() {
	read := bytesOf("03 00 00 00 01")
	var north, south *memory
	var client wire
	start := func(options modbus.Options) *modbus.Server {
		options.Gateway = true
		north, south = newMemory(10), newMemory(10)
		server := serve(map[byte]modbus.Device{1: north, 2: south}, options)
		client = dial(server)
		return server
	}
	ask := func(unit byte) []byte {
		GinkgoHelper()
		client.send(frame(5, unit, read))
		return client.receive()[6:]
	}

	It("answers for a unit that it does not know with 0A, and for a silent one with 0B", func() {
		start(modbus.Options{})
		south.fail(modbus.ErrNoReply)
		for range 3 {
			Expect(ask(1)).To(Equal(bytesOf("01 03 02 00 00")))
			Expect(ask(2)).To(Equal(bytesOf("02 83 0B")))
			for _, unit := range []byte{0, 3, 247, 255} {
				Expect(ask(unit)).To(Equal([]byte{unit, 0x83, 0x0A}))
			}
		}
		south.fail(nil)
		Expect(ask(2)).To(Equal(bytesOf("02 03 02 00 00")))
	})

	It("has a number for each unit, even if there is only one", func() {
		client = dial(serve(map[byte]modbus.Device{17: newMemory(1)}, modbus.Options{Gateway: true}))
		Expect(ask(17)).To(Equal(bytesOf("11 03 02 00 00")))
		Expect(ask(255)).To(Equal(bytesOf("FF 83 0A")))
	})

	It("passes a write to unit 0 on to all", func() {
		start(modbus.Options{})
		client.send(frame(1, 0, bytesOf("06 00 03 AB CD")))
		Expect(ask(1)).To(Equal(bytesOf("01 03 02 00 00")))
		Expect(north.register(3)).To(Equal(uint16(0xABCD)))
		Expect(south.register(3)).To(Equal(uint16(0xABCD)))
	})

	It("waits for a silent unit as long as it is told, on the clock that it is told, after the replies before", func() {
		waits := make(chan time.Duration)
		start(modbus.Options{TargetTimeout: time.Hour, Wait: func(_ modbus.Peer, d time.Duration) error {
			waits <- d
			return nil
		}})
		south.fail(modbus.ErrNoReply)
		client.send(append(frame(1, 1, read), frame(2, 2, read)...))
		Expect(client.receive()).To(Equal(bytesOf("00 01 00 00 00 05 01 03 02 00 00")))
		Expect(<-waits).To(Equal(time.Hour))
		Expect(client.receive()).To(Equal(bytesOf("00 02 00 00 00 03 02 83 0B")))
		client.expectSaneHere()
	})

	It("closes while it waits", func() {
		server := start(modbus.Options{TargetTimeout: time.Hour})
		south.fail(modbus.ErrNoReply)
		client.send(frame(2, 2, read))
		Eventually(south.accessCount).Should(Equal(1))
		Expect(server.Close()).To(Succeed())
	})

	It("lets go of a client that leaves while it waits", func() {
		server := start(modbus.Options{TargetTimeout: time.Hour})
		south.fail(modbus.ErrNoReply)
		client.send(frame(2, 2, read))
		Eventually(south.accessCount).Should(Equal(1))
		client.Close()
		Eventually(func() int { return server.Stats().Open }).Should(BeZero())
		expectSane(server)
	})
})

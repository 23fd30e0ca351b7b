package modbus_test

import (
	"bytes"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator/modbus"
)

// The source of these rows is the MODBUS Messaging on TCP/IP Implementation
// Guide V1.0b (2006), clause 3.1.3, unless a row says otherwise.
var _ = Describe("the MBAP header", func() {
	var device *memory
	var server *modbus.Server
	var client wire
	BeforeEach(func() {
		device = newMemory(200)
		server = serve(map[byte]modbus.Device{1: device, 7: device}, modbus.Options{})
		client = dial(server)
	})

	It("MB-40, MB-41, MB-42: has seven bytes, counts what follows the length, and comes back with transaction and unit", func() {
		client.send(bytesOf("12 34 00 00 00 06 07 03 00 00 00 01"))
		Expect(client.receive()).To(Equal(bytesOf("12 34 00 00 00 05 07 03 02 00 00")))
	})

	It("MB-43: with a protocol other than 0 gets no reply", func() {
		client.send(bytesOf("00 01 00 01 00 06 07 03 00 00 00 01"))
		client.send(bytesOf("00 02 01 00 00 06 07 06 00 00 00 01"))
		client.expectSaneHere()
		Expect(device.register(0)).To(BeZero())
		Expect(server.Stats().Dropped).To(Equal(uint64(2)))
	})

	It("MB-43: does not hold back the reply before it", func() {
		client.send(append(frame(1, 1, bytesOf("06 00 05 00 09")), bytesOf("00 01 00 01 00 06 07 03 00 00 00 01")...))
		Expect(client.receive()).To(Equal(frame(1, 1, bytesOf("06 00 05 00 09"))))
	})

	It("MB-44: with a length below 2 or above 254 ends the connection", func() {
		for _, length := range []string{"0000", "0001", "00FF", "0100", "FFFF"} {
			broken := dial(server)
			broken.send(bytesOf("00 01 00 00" + length))
			broken.expectEnd()
			expectSane(server)
		}
	})

	It("MB-44: with a length larger than the frame waits for the rest", func() {
		client.send(bytesOf("00 01 00 00 00 0B 01 10 00 00 00 02 04 00 05"))
		expectSane(server)
		Expect(device.register(0)).To(BeZero())
		client.send(bytesOf("00 06"))
		Expect(client.receive()).To(Equal(bytesOf("00 01 00 00 00 06 01 10 00 00 00 02")))
		Expect(device.register(1)).To(Equal(uint16(6)))
	})

	It("MB-45: reads as a public client's test encodes it (goburrow/modbus tcpclient_test.go), unit 0 being the only unit", func() {
		single := dial(serveOne(device))
		Expect(frame(1, 0, bytesOf("03 00 04 00 03"))).To(Equal(bytesOf("00 01 00 00 00 06 00 03 00 04 00 03")))
		single.send(bytesOf("00 01 00 00 00 06 00 03 00 04 00 03"))
		Expect(single.receive()).To(Equal(bytesOf("00 01 00 00 00 09 00 03 06 00 00 00 00 00 00")))
	})

	It("MB-46: carries an exception (recomputed)", func() {
		client.send(bytesOf("00 C8 00 00 00 06 07 03 00 00 00 7E"))
		Expect(client.receive()).To(Equal(bytesOf("00 C8 00 00 00 03 07 83 03")))
	})

	It("MB-47: two requests in one segment get two replies, one request in two segments gets one (from memory)", func() {
		one, two := frame(1, 1, bytesOf("06 00 05 00 09")), frame(2, 1, bytesOf("03 00 05 00 01"))
		client.send(append(bytes.Clone(one), two...))
		Expect(client.receive()).To(Equal(one))
		Expect(client.receive()).To(Equal(bytesOf("00 02 00 00 00 05 01 03 02 00 09")))
		client.send(two[:7])
		expectSane(server) // the pause between the segments
		client.send(two[7:])
		Expect(client.receive()).To(Equal(bytesOf("00 02 00 00 00 05 01 03 02 00 09")))
	})

	It("is read whatever the segments", func() {
		for _, part := range frame(3, 1, bytesOf("10 00 05 00 02 04 00 0A 00 0B")) {
			client.send([]byte{part})
		}
		Expect(client.receive()).To(Equal(bytesOf("00 03 00 00 00 06 01 10 00 05 00 02")))
	})

	It("orders twenty pipelined requests", func() {
		var burst []byte
		for i := range 20 {
			burst = append(burst, frame(uint16(i), 1, []byte{6, 0, 5, 0, byte(i)})...)
		}
		client.send(burst)
		for i := range 20 {
			Expect(client.receive()).To(Equal(frame(uint16(i), 1, []byte{6, 0, 5, 0, byte(i)})))
		}
		client.expectSaneHere()
	})

	It("survives a burst that is longer than the server's buffers", func() {
		var burst []byte
		for i := range 3000 {
			burst = append(burst, frame(uint16(i), 1, bytesOf("03 00 00 00 7D"))...)
		}
		go func() { _, _ = client.Write(burst) }()
		for i := range 3000 {
			reply := client.receive()
			Expect(reply[:2]).To(Equal([]byte{byte(i >> 8), byte(i)}))
			Expect(reply).To(HaveLen(259))
		}
	})
})

var _ = Describe("units", func() {
	ask := func(server *modbus.Server, unit byte, pdu string) []byte {
		client := dial(server)
		defer client.Close()
		client.send(frame(5, unit, bytesOf(pdu)))
		return client.receive()[6:]
	}

	It("answer to 0, 255 and their own number where there is only one (common practice, no source)", func() {
		server := serve(map[byte]modbus.Device{17: newMemory(10)}, modbus.Options{})
		for _, unit := range []byte{0, 17, 255} {
			Expect(ask(server, unit, "03 00 00 00 01")).To(Equal([]byte{unit, 3, 2, 0, 0}))
		}
		Expect(ask(server, 18, "03 00 00 00 01")).To(Equal(bytesOf("12 83 0B")))
	})

	It("answer to their own number only where there are several, and a missing one is a gateway's failed target (spec 7)", func() {
		north, south := newMemory(10), newMemory(10)
		north.holding[0], south.holding[0] = 0x11, 0x22
		server := serve(map[byte]modbus.Device{1: north, 2: south}, modbus.Options{})
		Expect(ask(server, 1, "03 00 00 00 01")).To(Equal(bytesOf("01 03 02 00 11")))
		Expect(ask(server, 2, "03 00 00 00 01")).To(Equal(bytesOf("02 03 02 00 22")))
		for _, unit := range []byte{0, 3, 255} {
			Expect(ask(server, unit, "03 00 00 00 01")).To(Equal([]byte{unit, 0x83, 0x0B}))
		}
	})

	It("all carry out a write to unit 0, and none replies (serial line guide V1.02, 2.4.1)", func() {
		north, south := newMemory(10), newMemory(10)
		server := serve(map[byte]modbus.Device{1: north, 2: south}, modbus.Options{})
		client := dial(server)
		client.send(frame(1, 0, bytesOf("06 00 03 AB CD")))
		client.send(frame(2, 0, bytesOf("0F 00 01 00 02 01 03")))
		client.send(frame(3, 0, bytesOf("16 00 03 FF F0 00 05")))
		client.send(frame(4, 0, bytesOf("06 00 03 AB")))
		client.expectSaneHere()
		for _, device := range []*memory{north, south} {
			Expect(device.holding[3]).To(Equal(uint16(0xABC5)))
			Expect(device.coils[:4]).To(Equal([]bool{false, true, true, false}))
		}
	})
})

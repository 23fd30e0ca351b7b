package modbus_test

import (
	"bytes"
	"io"
	"math/rand/v2"
	"net"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator/modbus"
)

var _ = Describe("a hostile or broken client", func() {
	var device *memory
	var server *modbus.Server
	BeforeEach(func() {
		device = newMemory(200)
		server = serveOne(device)
	})

	It("gets 03 for a request cut short or padded, and nothing is written", func() {
		client := dial(server)
		for _, whole := range []string{
			"01 00 00 00 01", "02 00 00 00 01", "03 00 00 00 01", "04 00 00 00 01",
			"05 00 00 FF 00", "06 00 00 12 34",
			"0F 00 00 00 0A 02 FF 03", "10 00 00 00 02 04 00 0A 01 02",
			"16 00 00 00 F2 00 25", "17 00 00 00 01 00 00 00 01 02 00 FF",
			"11", "18 00 00", "2B 0E 01 00",
		} {
			pdu := bytesOf(whole)
			refusal := []byte{pdu[0] | 0x80, 3}
			for length := 1; length < len(pdu); length++ {
				Expect(client.exchange(pdu[:length])).To(Equal(refusal), "% X cut to %d bytes", pdu, length)
			}
			Expect(client.exchange(append(pdu, 0))).To(Equal(refusal), "% X with a byte too many", pdu)
		}
		Expect(device.accessCount()).To(BeZero())
		expectSane(server)
	})

	It("gets 03 for each byte count but the right one", func() {
		client := dial(server)
		for count := range 256 {
			if count != 2 {
				Expect(client.exchange(append([]byte{0x0F, 0, 0, 0, 10, byte(count)}, 0xFF, 3))).To(Equal(bytesOf("8F 03")))
			}
			if count != 4 {
				Expect(client.exchange(append([]byte{0x10, 0, 0, 0, 2, byte(count)}, 1, 2, 3, 4))).To(Equal(bytesOf("90 03")))
			}
			if count != 2 {
				Expect(client.exchange(append([]byte{0x17, 0, 0, 0, 1, 0, 0, 0, 1, byte(count)}, 1, 2))).To(Equal(bytesOf("97 03")))
			}
		}
		for _, several := range []string{"0F 00 00 00 0A 03 FF 03 00", "10 00 00 00 01 04 00 01 00 02", "17 00 00 00 01 00 00 00 01 04 00 01 00 02"} {
			pdu := bytesOf(several)
			Expect(client.exchange(pdu)).To(Equal([]byte{pdu[0] | 0x80, 3}), "data and byte count agree, the quantity does not")
		}
		Expect(device.accessCount()).To(BeZero())
		expectSane(server)
	})

	It("sends noise and ends nothing but its own connection", func() {
		noise := rand.New(rand.NewPCG(7, 7))
		// Closed connections may still count for a moment: there is room for all of them.
		server := serve(map[byte]modbus.Device{1: device}, modbus.Options{MaxConnections: 300})
		for range 200 {
			garbage := make([]byte, 1+noise.IntN(600))
			for i := range garbage {
				garbage[i] = byte(noise.Uint32())
			}
			client := dial(server)
			client.send(garbage)
			client.Close()
		}
		expectSane(server)
	})

	It("has its last good request answered before its framing breaks", func() {
		client := dial(server)
		client.send(append(frame(9, 1, bytesOf("03 00 00 00 01")), 0, 1, 0, 0, 0, 0))
		Expect(client.receive()).To(Equal(bytesOf("00 09 00 00 00 05 01 03 02 00 00")))
		client.expectEnd()
		expectSane(server)
	})

	It("is cut off when it drips a request too slowly", func() {
		slow := serve(map[byte]modbus.Device{1: device}, modbus.Options{FrameTimeout: 50 * time.Millisecond})
		client := dial(slow)
		dripped := make(chan struct{})
		go func() {
			defer close(dripped)
			for _, part := range frame(1, 1, several(0x10, 123, 246)) {
				if _, err := client.Write([]byte{part}); err != nil {
					return
				}
				time.Sleep(20 * time.Millisecond)
			}
		}()
		expectSane(slow)
		// Whole, the request takes five seconds.
		Eventually(dripped).WithTimeout(4 * time.Second).Should(BeClosed())
		Eventually(func() int { return slow.Stats().Open }).Should(BeZero())
		Expect(slow.Stats().Functions[0x10]).To(BeZero())
		expectSane(slow)
	})

	It("is cut off when it stays idle for too long", func() {
		impatient := serve(map[byte]modbus.Device{1: device}, modbus.Options{IdleTimeout: 50 * time.Millisecond})
		dial(impatient).expectEnd()
		expectSane(impatient)
	})

	It("never reads its replies, and is cut off without delaying another", func() {
		strict := serve(map[byte]modbus.Device{1: device}, modbus.Options{WriteTimeout: 300 * time.Millisecond})
		deaf := dial(strict)
		stuffed := make(chan struct{})
		go func() {
			defer close(stuffed)
			burst := bytes.Repeat(frame(1, 1, bytesOf("03 00 00 00 7D")), 1000)
			for {
				if _, err := deaf.Write(burst); err != nil {
					return
				}
			}
		}()
		good := dial(strict)
		for range 100 {
			good.expectSaneHere()
		}
		Eventually(stuffed).WithTimeout(9 * time.Second).Should(BeClosed())
		Eventually(func() int { return strict.Stats().Open }).Should(Equal(1))
		good.expectSaneHere()
	})

	It("is turned away when there are too many", func() {
		small := serve(map[byte]modbus.Device{1: device}, modbus.Options{MaxConnections: 2})
		first, second := dial(small), dial(small)
		first.expectSaneHere()
		second.expectSaneHere()
		third := dial(small)
		_, err := third.Read(make([]byte, 1))
		Expect(err).To(MatchError(io.EOF))
		Expect(small.Stats().Refused).To(Equal(uint64(1)))
		first.Close()
		Eventually(func() int { return small.Stats().Open }).Should(Equal(1))
		expectSane(small)
	})
})

var _ = Describe("a device that answers otherwise", func() {
	var device *memory
	var server *modbus.Server
	var client wire
	read := bytesOf("03 00 00 00 01")
	BeforeEach(func() {
		device = newMemory(10)
		server = serveOne(device)
		client = dial(server)
	})

	It("closes the connection after what was answered before", func() {
		client.expectSaneHere()
		device.fail(modbus.ErrClose)
		client.send(append(frame(1, 1, bytesOf("2B 0E 05 00")), frame(2, 1, read)...))
		Expect(client.receive()).To(Equal(bytesOf("00 01 00 00 00 03 01 AB 03")))
		client.expectEnd()
	})

	It("resets the connection", func() {
		device.fail(modbus.ErrReset)
		client.send(frame(1, 1, read))
		_, err := client.Read(make([]byte, 1))
		Expect(err).To(HaveOccurred())
		Expect(err).NotTo(MatchError(io.EOF))
	})

	It("stays silent and keeps the connection", func() {
		device.fail(modbus.ErrNoReply)
		client.send(frame(1, 1, read))
		Eventually(device.accessCount).Should(Equal(1))
		device.fail(nil)
		client.expectSaneHere()
	})

	It("sends garbage", func() {
		device.fail(modbus.RawReply("\xDE\xAD\xBE"))
		client.send(frame(1, 1, read))
		got := make([]byte, 3)
		_, err := io.ReadFull(client, got)
		Expect(err).NotTo(HaveOccurred())
		Expect(got).To(Equal(bytesOf("DE AD BE")))
	})
})

var _ = Describe("Listen", func() {
	units := map[byte]modbus.Device{1: newMemory(1)}

	It("says what to do when the port is in use", func() {
		server := serve(units, modbus.Options{})
		address := server.Addr().String()
		_, err := modbus.Listen(address, units, modbus.Options{})
		Expect(err).To(MatchError(ContainSubstring(
			"modbus: " + address + " is in use: another program listens there; choose another port or stop it")))
		expectSane(server)
	})

	It("keeps to loopback unless remote clients are allowed", func() {
		for _, address := range []string{":0", "0.0.0.0:0", "[::]:0", "192.0.2.1:1502"} {
			_, err := modbus.Listen(address, units, modbus.Options{})
			Expect(err).To(MatchError(ContainSubstring("can be reached from other machines; use a loopback address such as 127.0.0.1:")), address)
		}
		open, err := modbus.Listen("0.0.0.0:0", units, modbus.Options{AllowRemote: true})
		Expect(err).NotTo(HaveOccurred())
		Expect(open.Addr().(*net.TCPAddr).IP.IsUnspecified()).To(BeTrue())
		Expect(open.Close()).To(Succeed())
	})

	It("wants an address and a device", func() {
		_, err := modbus.Listen("127.0.0.1", units, modbus.Options{})
		Expect(err).To(MatchError(ContainSubstring(`"127.0.0.1" is no address to listen at; write host:port`)))
		_, err = modbus.Listen("127.0.0.1:0", nil, modbus.Options{})
		Expect(err).To(MatchError(ContainSubstring("no unit to serve")))
		_, err = modbus.Listen("127.0.0.1:0", map[byte]modbus.Device{4: nil}, modbus.Options{})
		Expect(err).To(MatchError(ContainSubstring("unit 4 at 127.0.0.1:0 has no device")))
	})
})

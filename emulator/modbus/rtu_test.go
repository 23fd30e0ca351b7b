package modbus_test

import (
	"bytes"
	"maps"
	"math/rand/v2"
	"slices"
	"strings"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	"go.uber.org/goleak"

	"kilter/emulator/modbus"
)

var _ = Describe("the silent intervals of a line (MODBUS over Serial Line V1.02, 2.5.1.1)", func() {
	DescribeTable("come from the speed", func(baud int, inside, between time.Duration) {
		gotInside, gotBetween := modbus.SilentIntervals(baud)
		Expect(gotInside).To(BeNumerically("~", inside, time.Microsecond))
		Expect(gotBetween).To(BeNumerically("~", between, time.Microsecond))
	},
		Entry("MB-64: 9600 baud (recomputed)", 9600, 1718750*time.Nanosecond, 4010400*time.Nanosecond),
		Entry("MB-64: 19200 baud (recomputed)", 19200, 859375*time.Nanosecond, 2005200*time.Nanosecond),
		Entry("MB-65: above 19200 baud (t3.5 from memory)", 19201, 750*time.Microsecond, 1750*time.Microsecond),
		Entry("MB-65: 115200 baud (t3.5 from memory)", 115200, 750*time.Microsecond, 1750*time.Microsecond),
	)
})

// Each way is a Describe of its own; the order is the alphabet's.
var _ = Describe("RTU", func() {
	for _, how := range slices.Sorted(maps.Keys(wires)) {
		Describe(how, func() { describeRTU(how) })
	}
})

func describeRTU(how string) {
	var device, other *memory
	var server *modbus.Server
	var client port
	BeforeEach(func() {
		device, other = newMemory(1184), newMemory(1184)
		server = serveRTU(how, map[byte]modbus.Device{0x11: device, 0x12: other})
		client = open(server)
	})

	// The frames of MB-50 to MB-57 are those of public client libraries' tests,
	// MB-58 to MB-60 are recomputed over the worked examples of the specification.
	It("MB-50, MB-51: has the checksum of CRC-16/MODBUS (goburrow/modbus crc_test.go; serial line, appendix B)", func() {
		Expect(sealed([]byte("123456789"))[9:]).To(Equal([]byte{0x37, 0x4B}))
		Expect(sealed(bytesOf("02 07"))[2:]).To(Equal(bytesOf("41 12")))
		// The server agrees: the same two bytes are function 7 for unit 2.
		second := open(serveRTU(how, map[byte]modbus.Device{2: newMemory(1)}))
		second.send(bytesOf("02 07 41 12"))
		second.expect(sealed(bytesOf("02 87 01")))
	})

	It("MB-52, MB-53: reads registers (goburrow/modbus rtuclient_test.go)", func() {
		one := newMemory(0x5100)
		server := serveRTU(how, map[byte]modbus.Device{1: one})
		client := open(server)
		client.send(bytesOf("01 03 50 00 00 18 54 C0"))
		client.expect(sealed(append(bytesOf("01 03 30"), make([]byte, 48)...)))
		client.send(bytesOf("01 03 00 00 00 02 C4 0B"))
		client.expect(bytesOf("01 03 04 00 00 00 00 FA 33"))
	})

	It("MB-54, MB-55, MB-56, MB-57: writes (goburrow/modbus rtuclient_test.go)", func() {
		client.send(bytesOf("11 05 00 AC FF 00 4E 8B"))
		client.expect(bytesOf("11 05 00 AC FF 00 4E 8B"))
		client.send(bytesOf("11 06 00 01 00 03 9A 9B"))
		client.expect(bytesOf("11 06 00 01 00 03 9A 9B"))
		Expect(device.register(1)).To(Equal(uint16(3)))
		client.send(bytesOf("11 0F 00 13 00 0A 02 CD 01 BF 0B"))
		client.expect(bytesOf("11 0F 00 13 00 0A 26 99"))
		client.send(bytesOf("11 10 00 01 00 02 04 00 0A 01 02 C6 F0"))
		client.expect(bytesOf("11 10 00 01 00 02 12 98"))
		Expect(device.register(2)).To(Equal(uint16(258)))
		Expect(device.coils[0xAC]).To(BeTrue())
		Expect(device.coils[0x13:0x1D]).To(Equal([]bool{true, false, true, true, false, false, true, true, true, false}))
	})

	It("MB-58, MB-59: carries the other worked examples (recomputed)", func() {
		for i, packed := range bytesOf("CD6B05") {
			for bit := range 8 {
				device.coils[0x13+8*i+bit] = packed>>bit&1 == 1
			}
		}
		for i, packed := range bytesOf("ACDB35") {
			for bit := range 8 {
				device.inputs[0xC4+8*i+bit] = packed>>bit&1 == 1
			}
		}
		copy(device.holding[0x6B:], []uint16{555, 0, 100})
		copy(device.holding[3:], []uint16{0x00FE, 0x0ACD, 1, 3, 0x0D, 0xFF})
		device.input[8] = 10
		for _, pair := range [][2]string{
			{"11 01 00 13 00 13 8E 92", "11 01 03 CD 6B 05 40 12"},
			{"11 02 00 C4 00 16 BA A9", "11 02 03 AC DB 35 20 18"},
			{"11 03 00 6B 00 03 76 87", "11 03 06 02 2B 00 00 00 64 C8 BA"},
			{"11 04 00 08 00 01 B2 98", "11 04 02 00 0A F8 F4"},
			{"11 17 00 03 00 06 00 0E 00 03 06 00 FF 00 FF 00 FF 4B 54", "11 17 0C 00 FE 0A CD 00 01 00 03 00 0D 00 FF 0D 75"},
			{"11 16 00 04 00 F2 00 25 66 E2", "11 16 00 04 00 F2 00 25 66 E2"},
		} {
			client.send(bytesOf(pair[0]))
			client.expect(bytesOf(pair[1]), pair[0])
		}
		client.send(bytesOf("11 2B 0E 01 00 B1 B4"))
		client.expect(sealed(append(append(append(bytesOf("11 2B 0E 01 01 00 00 03 00 16"), "Company identification"...),
			append(bytesOf("01 0F"), "Product code XX"...)...), append(bytesOf("02 05"), "V2.11"...)...)))
		Expect(sealed(bytesOf("11 81 02"))).To(Equal(bytesOf("11 81 02 C0 54")))
		client.send(sealed(bytesOf("11 01 04 A1 00 01")))
		client.expect(bytesOf("11 81 02 C0 54"))
	})

	It("MB-60: carries an exception of unit 0A (recomputed)", func() {
		server := serveRTU(how, map[byte]modbus.Device{0x0A: newMemory(100)})
		client := open(server)
		client.send(bytesOf("0A 01 04 A1 00 01 AC 63"))
		client.expect(bytesOf("0A 81 02 B0 53"))
	})

	It("MB-61: has every unit carry out a broadcast, and none reply (serial line 2.4.1)", func() {
		client.send(bytesOf("00 06 00 03 AB CD C6 BE"))
		client.expectNothing()
		Expect(device.register(3)).To(Equal(uint16(0xABCD)))
		Expect(other.register(3)).To(Equal(uint16(0xABCD)))
		client.send(sealed(bytesOf("00 03 00 00 00 01")))
		client.expectNothing("a broadcast read has no meaning")
		client.expectSane()
	})

	It("MB-62: answers neither a bad checksum nor a frame for another unit (serial line 2.4.1)", func() {
		good := sealed(bytesOf("11 06 00 03 AB CD"))
		for bit := range 16 {
			bad := bytes.Clone(good)
			bad[6+bit/8] ^= 1 << (bit % 8)
			client.send(bad)
			time.Sleep(pause + 10*time.Millisecond)
		}
		client.expectNothing()
		client.send(sealed(bytesOf("13 06 00 03 AB CD")))
		client.send(sealed(bytesOf("FF 06 00 03 AB CD")))
		client.expectNothing()
		Expect(device.register(3)).To(BeZero())
		Expect(other.register(3)).To(BeZero())
		client.expectSane()
		Expect(server.Stats().Dropped).NotTo(BeZero())
	})

	It("serves several units on one line, each by its own number only", func() {
		other.holding[0] = 0x2222
		for range 3 {
			client.expectSane()
			client.send(sealed(bytesOf("12 03 00 00 00 01")))
			client.expect(sealed(bytesOf("12 03 02 22 22")))
		}
	})

	It("knows function 11, whose request is the shortest frame", func() {
		client.send(sealed(bytesOf("12 11")))
		client.expect(sealed(append(bytesOf("12 11 2E 12 FF"), "Company identification Product code XX V2.11"...)))
	})

	It("ends a frame by silence where the function does not tell its length", func() {
		for _, pdu := range []string{"41", "41 01 02 03", "08 00 00 A5 37", "64 00 00 00 00 00", "2B 0D 01 00 00 00"} {
			client.send(sealed(append([]byte{0x11}, bytesOf(pdu)...)))
			client.expect(sealed([]byte{0x11, bytesOf(pdu)[0] | 0x80, 1}), pdu)
		}
		client.send(sealed(bytesOf("11 03 00 00 00 01 00")))
		client.expect(sealed(bytesOf("11 83 03")), "longer than the function implies")
		client.expectSane()
	})

	It("takes the largest frame, and no larger one", func() {
		longest := append(bytesOf("11 10 00 00 00 7B F6"), make([]byte, 246)...)
		client.send(sealed(longest))
		client.expect(sealed(bytesOf("11 10 00 00 00 7B")))
		full := append(bytesOf("11 41"), make([]byte, 252)...)
		client.send(sealed(full))
		client.expect(sealed(bytesOf("11 C1 01")))
		client.send(sealed(append(full, 0)))
		client.expectNothing()
		client.expectSane()
	})

	It("joins a frame that comes in pieces", func() {
		whole := sealed(bytesOf("11 10 00 05 00 02 04 00 0A 00 0B"))
		for cut := 1; cut < len(whole); cut++ {
			client.send(whole[:cut])
			time.Sleep(3 * time.Millisecond)
			client.send(whole[cut:])
			client.expect(sealed(bytesOf("11 10 00 05 00 02")), "cut after %d bytes", cut)
		}
		client.expectSane()
	})

	It("parts frames that come in one piece", func() {
		burst := slices.Concat(sealed(bytesOf("11 06 00 05 00 09")), sealed(bytesOf("13 03 00 00 00 01")),
			sealed(bytesOf("12 06 00 05 00 08")), sealed(bytesOf("11 03 00 05 00 01")))
		client.send(burst)
		client.expect(sealed(bytesOf("11 06 00 05 00 09")))
		client.expect(sealed(bytesOf("12 06 00 05 00 08")))
		client.expect(sealed(bytesOf("11 03 02 00 09")))
		client.expectSane()
	})

	It("gives up half a frame after a pause, and hears the next", func() {
		half := sealed(bytesOf("11 06 00 03 AB CD"))
		for cut := 1; cut < len(half); cut++ {
			client.send(half[:cut])
			time.Sleep(3 * pause)
			client.expectSane("after %d bytes", cut)
		}
		Expect(device.register(3)).To(BeZero())
	})

	It("hears a frame right after half a frame, once the pause makes clear what is what", func() {
		client.send(bytesOf("11 10 00 00 00 7B F6 00"))
		time.Sleep(pause / 2)
		client.expectSane()
	})

	It("executes no frame that lies in another's data", func() {
		inner := sealed(bytesOf("11 06 00 03 AB CD"))
		bad := sealed(append(bytesOf("11 10 00 10 00 04 08"), inner...))
		bad[len(bad)-1] ^= 1
		client.send(bad)
		client.expectNothing()
		Expect(device.register(3)).To(BeZero())
		client.expectSane()
	})

	It("finds its way after noise of any length", func() {
		noise := rand.New(rand.NewPCG(11, 11))
		for range 20 {
			garbage := make([]byte, 1+noise.IntN(2000))
			for i := range garbage {
				garbage[i] = byte(noise.Uint32())
			}
			garbage[0] = 0xFE // no unit of this line, in case a frame is in it
			client.send(garbage)
			time.Sleep(3 * pause)
			client.expectSane("after %d bytes", len(garbage))
		}
	})

	It("goes on when a device would close or reset the connection of a line", func() {
		if how != pseudoTerminal {
			Skip("a TCP connection can be closed")
		}
		for _, err := range []error{modbus.ErrClose, modbus.ErrReset, modbus.ErrNoReply} {
			device.fail(err)
			client.send(sealed(bytesOf("11 03 00 00 00 01")))
			client.expectNothing()
			device.fail(nil)
			client.expectSane()
		}
	})

	It("records requests and replies in the form that Modbus TCP would give them", func() {
		records := make(chan modbus.Exchange, 10)
		server, err := startRTU(how, map[byte]modbus.Device{0x11: newMemory(10)}, modbus.RTUOptions{Options: modbus.Options{
			Record: func(e modbus.Exchange) {
				e.Request, e.Reply = bytes.Clone(e.Request), bytes.Clone(e.Reply)
				records <- e
			}}})
		Expect(err).NotTo(HaveOccurred())
		DeferCleanup(server.Close)
		open(server).expectSane()
		var record modbus.Exchange
		Expect(records).To(Receive(&record))
		Expect(record.Request).To(Equal(bytesOf("00 00 00 00 00 06 11 03 00 00 00 01")))
		Expect(record.Reply).To(Equal(bytesOf("00 00 00 00 00 05 11 03 02 00 00")))
		Expect(record.Unit).To(Equal(byte(0x11)))
	})

	It("closes fully, in the middle of a frame too", func() {
		client.expectSane() // the server of the other specs is fully up
		before := goleak.IgnoreCurrent()
		closing, err := startRTU(how, map[byte]modbus.Device{0x11: newMemory(10)}, modbus.RTUOptions{Pause: time.Minute})
		Expect(err).NotTo(HaveOccurred())
		client = open(closing)
		client.expectSane()
		client.send(bytesOf("11 03"))
		Expect(closing.Close()).To(Succeed())
		Expect(closing.Stats().Open).To(BeZero())
		Expect(client.deadline.SetDeadline(time.Now().Add(time.Second))).To(Succeed())
		_, err = client.Read(make([]byte, 1))
		Expect(err).To(HaveOccurred())
		Expect(strings.Contains(err.Error(), "timeout")).To(BeFalse(), "the client sees the end at once")
		client.Close()
		Expect(goleak.Find(before)).To(Succeed())
		Expect(closing.Close()).To(Succeed(), "a second time")
	})

	It("refuses a unit that a line cannot address, and a speed that no line has", func() {
		for _, unit := range []byte{0, 248, 255} {
			_, err := startRTU(how, map[byte]modbus.Device{unit: device}, modbus.RTUOptions{})
			Expect(err).To(MatchError(ContainSubstring("give it 1 to 247")))
		}
		_, err := startRTU(how, map[byte]modbus.Device{1: device}, modbus.RTUOptions{Baud: -9600})
		Expect(err).To(MatchError("modbus: a line cannot have -9600 baud; use a speed such as 9600 or 19200"))
	})
}

var _ = Describe("the timing of a line", func() {
	It("parts a reply from its request by t3.5, and by the time on the wire where asked", func() {
		for _, row := range []struct {
			options modbus.RTUOptions
			least   time.Duration
		}{
			{modbus.RTUOptions{Baud: 1200}, 32 * time.Millisecond},                        // t3.5 is 32.08 ms
			{modbus.RTUOptions{Baud: 9600}, 4 * time.Millisecond},                         // 4.01 ms
			{modbus.RTUOptions{Baud: 2400, WireTime: true}, (69 + 16) * time.Millisecond}, // 15 characters, t3.5
			{modbus.RTUOptions{Baud: 115200, WireTime: true}, (1434 + 1750) * time.Microsecond},
		} {
			server, err := startRTU(pseudoTerminal, map[byte]modbus.Device{0x11: newMemory(10)}, row.options)
			Expect(err).NotTo(HaveOccurred())
			client := open(server)
			asked := time.Now()
			client.expectSane()
			Expect(time.Since(asked)).To(BeNumerically(">=", row.least), "%d baud", row.options.Baud)
			Expect(server.Close()).To(Succeed())
		}
	})

	It("does not give a client the reply to its predecessor", func() {
		device := newMemory(10)
		server := serveRTU(pseudoTerminal, map[byte]modbus.Device{0x11: device})
		first := open(server)
		first.send(sealed(bytesOf("11 06 00 01 00 07")))
		Eventually(func() uint16 { return device.register(1) }).Should(Equal(uint16(7)))
		time.Sleep(2 * pause)
		Expect(first.Close()).To(Succeed())
		time.Sleep(pause) // no program starts faster
		second := open(server)
		second.expectSane()
		second.expectNothing()
	})

	It("outlives a client that never reads, and answers the next", func() {
		server, err := startRTU(pseudoTerminal, map[byte]modbus.Device{0x11: newMemory(200)},
			modbus.RTUOptions{Options: modbus.Options{WriteTimeout: 50 * time.Millisecond}, Baud: 115200})
		Expect(err).NotTo(HaveOccurred())
		DeferCleanup(server.Close)
		deaf := open(server)
		for range 60 {
			deaf.send(sealed(bytesOf("11 03 00 00 00 7D")))
		}
		Eventually(func() uint64 { return server.Stats().Requests }).WithTimeout(8 * time.Second).Should(Equal(uint64(60)))
		time.Sleep(2 * pause)
		Expect(deaf.Close()).To(Succeed())
		time.Sleep(pause)
		open(server).expectSane()
	})
})

package modbus_test

import (
	"strings"
	"sync"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator/modbus"
)

// masker is a device that masks registers by itself.
type masker struct {
	*memory
	masked [3]uint16
}

func (m *masker) MaskRegister(_ modbus.Peer, address, and, or uint16) error {
	m.masked = [3]uint16{address, and, or}
	return nil
}

// slowReader leaves time between the reading and the writing of a mask write.
type slowReader struct{ *memory }

func (s slowReader) ReadRegisters(from modbus.Peer, table modbus.Table, address uint16, dst []uint16) error {
	err := s.memory.ReadRegisters(from, table, address, dst)
	time.Sleep(2 * time.Millisecond)
	return err
}

// lazy is a device that answers reads without filling anything in.
type lazy struct{ plain }

func (lazy) ReadRegisters(modbus.Peer, modbus.Table, uint16, []uint16) error { return nil }

func (lazy) ReadBits(modbus.Peer, modbus.Table, uint16, []bool) error { return nil }

var _ = Describe("a function that does several things", func() {
	It("reads and writes both or neither: function 17 refused by the device has no effect (spec, figure 25)", func() {
		device := newMemory(10)
		client := dial(serveOne(device))
		Expect(client.exchange(bytesOf("17 00 09 00 02 00 00 00 01 02 00 FF"))).To(Equal(bytesOf("97 02")))
		Expect(client.exchange(bytesOf("17 00 00 00 01 00 09 00 02 04 00 FF 00 FF"))).To(Equal(bytesOf("97 02")))
		Expect(device.holding).To(HaveEach(BeZero()))
	})

	It("leaves a mask write to a device that can do it in one step", func() {
		device := &masker{memory: newMemory(10)}
		client := dial(serveOne(device))
		Expect(client.exchange(bytesOf("16 00 04 00 F2 00 25"))).To(Equal(bytesOf("16 00 04 00 F2 00 25")))
		Expect(device.masked).To(Equal([3]uint16{4, 0xF2, 0x25}))
		Expect(device.accessCount()).To(BeZero())
	})

	It("loses no mask write when clients each set one bit of a slow device's register", func() {
		device := slowReader{newMemory(10)}
		server := serveOne(device)
		var clients sync.WaitGroup
		for bit := range 8 {
			client := dial(server)
			clients.Go(func() {
				defer GinkgoRecover()
				mask := byte(1) << bit
				client.exchange([]byte{0x16, 0, 0, 0xFF, ^mask, 0, mask})
			})
		}
		clients.Wait()
		Expect(device.register(0)).To(Equal(uint16(0xFF)))
	})

	It("shows nothing of an earlier request where a device leaves values out", func() {
		client := dial(serve(map[byte]modbus.Device{1: newMemory(10), 2: lazy{plain{newMemory(10)}}}, modbus.Options{}))
		for _, request := range []string{"10 00 00 00 02 04 FF FF FF FF", "0F 00 00 00 08 01 FF"} {
			client.send(frame(1, 1, bytesOf(request)))
			client.receive()
		}
		for request, reply := range map[string]string{"03 00 00 00 02": "03 04 00 00 00 00", "01 00 00 00 08": "01 01 00"} {
			client.send(frame(1, 2, bytesOf(request)))
			Expect(client.receive()[7:]).To(Equal(bytesOf(reply)))
		}
	})

	It("refuses a queue of more than 31 registers (spec 6.18)", func() {
		device := newMemory(10)
		client := dial(serveOne(device))
		device.queue = make([]uint16, 31)
		Expect(client.exchange(bytesOf("18 00 00"))).To(HaveLen(67))
		device.queue = make([]uint16, 32)
		Expect(client.exchange(bytesOf("18 00 00"))).To(Equal(bytesOf("98 03")))
	})
})

// The source is clause 6.21 of the MODBUS Application Protocol Specification
// V1.1b3, from memory where the worked example (MB-14) does not show it.
var _ = Describe("identification", func() {
	var device *memory
	var client wire
	BeforeEach(func() {
		device = newMemory(10)
		device.objects = []string{"V", "P", "1", "", "Deck oven"}
		client = dial(serveOne(device))
	})

	It("gives the objects of the category, and the level that the device has", func() {
		basic := "01 02 00 00 03  00 01 56  01 01 50  02 01 31"
		Expect(client.exchange(bytesOf("2B 0E 01 00"))).To(Equal(bytesOf("2B 0E" + basic)))
		regular := bytesOf("02 00 00 05  00 01 56  01 01 50  02 01 31  03 00  04 09")
		regular = append(regular, "Deck oven"...)
		for _, code := range []byte{2, 3} {
			Expect(client.exchange([]byte{0x2B, 0x0E, code, 0})).To(Equal(append([]byte{0x2B, 0x0E, code}, regular...)))
		}
	})

	It("starts where the client says, and at the beginning if there is no such object", func() {
		Expect(client.exchange(bytesOf("2B 0E 01 02"))).To(Equal(bytesOf("2B 0E 01 02 00 00 01 02 01 31")))
		Expect(client.exchange(bytesOf("2B 0E 01 03"))).To(Equal(client.exchange(bytesOf("2B 0E 01 00"))))
	})

	It("continues in a further reply what does not fit", func() {
		device.objects = []string{strings.Repeat("a", 150), strings.Repeat("b", 150), strings.Repeat("c", 300)}
		first := client.exchange(bytesOf("2B 0E 01 00"))
		Expect(first[:9]).To(Equal(bytesOf("2B 0E 01 01 FF 01 01 00 96")))
		Expect(first).To(HaveLen(9 + 150))
		second := client.exchange(bytesOf("2B 0E 01 01"))
		Expect(second[:9]).To(Equal(bytesOf("2B 0E 01 01 FF 02 01 01 96")))
		third := client.exchange(bytesOf("2B 0E 01 02"))
		Expect(third[:9]).To(Equal(bytesOf("2B 0E 01 01 00 00 01 02 F4")), "too long for any reply, so it is cut")
		Expect(third).To(HaveLen(253))
	})

	It("refuses another kind of access or of interface", func() {
		for _, code := range []string{"00", "04", "05"} {
			Expect(client.exchange(bytesOf("2B 0E" + code + "00"))).To(Equal(bytesOf("AB 03")))
		}
		Expect(client.exchange(bytesOf("2B 0D 01 00"))).To(Equal(bytesOf("AB 01")))
	})

	It("is the text of function 11, after the unit and the run indicator (spec 6.13)", func() {
		device.objects = []string{"Bakery", "north", "1.0"}
		Expect(client.exchange(bytesOf("11"))).To(Equal(append(bytesOf("11 12 01 FF"), "Bakery north 1.0"...)))
		device.objects = []string{strings.Repeat("x", 400)}
		Expect(client.exchange(bytesOf("11"))).To(HaveLen(253))
	})
})

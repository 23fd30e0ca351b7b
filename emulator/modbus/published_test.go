package modbus_test

import (
	"fmt"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator/modbus"
)

// spec stands for the MODBUS Application Protocol Specification V1.1b3 (2012),
// the source of each worked example below; ids are those of check-values.
var _ = Describe("the worked examples of the specification", func() {
	unpack := func(packed string, count int) []bool {
		bits := make([]bool, count)
		for i := range bits {
			bits[i] = bytesOf(packed)[i/8]>>(i%8)&1 == 1
		}
		return bits
	}

	var device *memory
	var client wire
	BeforeEach(func() {
		device = newMemory(1184) // MB-17 wants fewer than 1185 coils
		client = dial(serveOne(device))
	})

	It("MB-01: reads coils 20 to 38 (spec 6.1)", func() {
		copy(device.coils[0x13:], unpack("CD6B05", 19))
		Expect(client.exchange(bytesOf("01 00 13 00 13"))).To(Equal(bytesOf("01 03 CD 6B 05")))
	})

	It("MB-02: reads discrete inputs 197 to 218 (spec 6.2)", func() {
		copy(device.inputs[0xC4:], unpack("ACDB35", 22))
		Expect(client.exchange(bytesOf("02 00 C4 00 16"))).To(Equal(bytesOf("02 03 AC DB 35")))
	})

	It("MB-03: reads holding registers 108 to 110 (spec 6.3)", func() {
		copy(device.holding[0x6B:], []uint16{555, 0, 100})
		Expect(client.exchange(bytesOf("03 00 6B 00 03"))).To(Equal(bytesOf("03 06 02 2B 00 00 00 64")))
	})

	It("MB-04: reads input register 9 (spec 6.4)", func() {
		device.input[8] = 10
		Expect(client.exchange(bytesOf("04 00 08 00 01"))).To(Equal(bytesOf("04 02 00 0A")))
	})

	It("MB-05: writes coil 173 on (spec 6.5)", func() {
		request := bytesOf("05 00 AC FF 00")
		Expect(client.exchange(request)).To(Equal(request))
		Expect(device.coils[0xAC]).To(BeTrue())
	})

	It("MB-06: writes 3 to register 2 (spec 6.6)", func() {
		request := bytesOf("06 00 01 00 03")
		Expect(client.exchange(request)).To(Equal(request))
		Expect(device.holding[1]).To(Equal(uint16(3)))
	})

	It("MB-07: writes ten coils from 20 (spec 6.11)", func() {
		device.coils[0x13+10] = true
		Expect(client.exchange(bytesOf("0F 00 13 00 0A 02 CD 01"))).To(Equal(bytesOf("0F 00 13 00 0A")))
		Expect(device.coils[0x13:0x1D]).To(Equal(
			[]bool{true, false, true, true, false, false, true, true, true, false}))
		Expect(device.coils[0x1D]).To(BeTrue(), "the coil after the window is left alone")
	})

	It("MB-08: writes 10 and 258 to registers 2 and 3 (spec 6.12)", func() {
		Expect(client.exchange(bytesOf("10 00 01 00 02 04 00 0A 01 02"))).To(Equal(bytesOf("10 00 01 00 02")))
		Expect(device.holding[1:3]).To(Equal([]uint16{10, 258}))
	})

	It("MB-09, MB-10: masks register 5 (spec 6.16)", func() {
		device.holding[4] = 0x12
		request := bytesOf("16 00 04 00 F2 00 25")
		Expect(client.exchange(request)).To(Equal(request))
		Expect(device.holding[4]).To(Equal(uint16(0x17)))
	})

	It("MB-11: reads six registers and writes three (spec 6.17)", func() {
		copy(device.holding[3:], []uint16{0x00FE, 0x0ACD, 1, 3, 0x0D, 0xFF})
		Expect(client.exchange(bytesOf("17 00 03 00 06 00 0E 00 03 06 00 FF 00 FF 00 FF"))).
			To(Equal(bytesOf("17 0C 00 FE 0A CD 00 01 00 03 00 0D 00 FF")))
		Expect(device.holding[0x0E:0x11]).To(Equal([]uint16{0xFF, 0xFF, 0xFF}))
	})

	It("MB-12: writes before it reads (spec 6.17)", func() {
		copy(device.holding[20:], []uint16{1111, 2222})
		Expect(client.exchange(bytesOf("17 00 14 00 02 00 14 00 02 04 00 AA 00 BB"))).
			To(Equal(bytesOf("17 04 00 AA 00 BB")))
	})

	It("MB-13, MB-14, MB-15: identifies the device (spec 6.21; object 1 has 15 characters, not 0D)", func() {
		want := bytesOf("2B 0E 01 01 00 00 03")
		want = append(append(want, 0x00, 0x16), "Company identification"...)
		want = append(append(want, 0x01, 0x0F), "Product code XX"...)
		want = append(append(want, 0x02, 0x05), "V2.11"...)
		Expect(want).To(HaveLen(55))
		Expect(client.exchange(bytesOf("2B 0E 01 00"))).To(Equal(want))
	})

	It("MB-16: reads the queue at 1246 (spec 6.18)", func() {
		device.queue = []uint16{440, 4740}
		Expect(client.exchange(bytesOf("18 04 DE"))).To(Equal(bytesOf("18 00 06 00 02 01 B8 12 84")))
	})

	It("MB-17: has no coil 1185 (spec 7)", func() {
		Expect(client.exchange(bytesOf("01 04 A1 00 01"))).To(Equal(bytesOf("81 02")))
	})

	It("MB-18: knows no other function (spec 7)", func() {
		bare := dial(serveOne(plain{device}))
		for _, function := range []byte{0x00, 0x07, 0x08, 0x0B, 0x0C, 0x11, 0x14, 0x15, 0x18, 0x2B, 0x41, 0x7F, 0x83, 0xFF} {
			Expect(bare.exchange([]byte{function, 0, 0, 0, 0})).
				To(Equal([]byte{function | 0x80, 0x01}), "function %02X", function)
		}
	})
})

var _ = Describe("limits and exceptions", func() {
	var device *memory
	var client wire
	BeforeEach(func() {
		device = newMemory(65536)
		client = dial(serveOne(device))
	})

	refused := func(function byte, exception modbus.Exception) []byte {
		return []byte{function | 0x80, byte(exception)}
	}

	It("MB-20: reads 1 to 2000 bits (spec 6.1, 6.2; a public client library's header)", func() {
		for _, function := range []byte{0x01, 0x02} {
			Expect(client.exchange(quantity(function, 1))).To(Equal([]byte{function, 1, 0}))
			Expect(client.exchange(quantity(function, 2000))).To(HaveLen(252))
			for _, count := range []int{0, 2001, 65535} {
				Expect(client.exchange(quantity(function, count))).To(Equal(refused(function, 3)), "%d", count)
			}
		}
	})

	It("MB-21: reads 1 to 125 registers (spec 6.3, 6.4)", func() {
		for _, function := range []byte{0x03, 0x04} {
			Expect(client.exchange(quantity(function, 1))).To(Equal([]byte{function, 2, 0, 0}))
			Expect(client.exchange(quantity(function, 125))).To(HaveLen(252))
			for _, count := range []int{0, 126, 65535} {
				Expect(client.exchange(quantity(function, count))).To(Equal(refused(function, 3)), "%d", count)
			}
		}
	})

	It("MB-22: writes 1 to 1968 coils (spec 6.11)", func() {
		Expect(client.exchange(several(0x0F, 1968, 246))).To(Equal(quantity(0x0F, 1968)))
		Expect(device.coils[1967]).To(BeTrue())
		Expect(device.coils[1968]).To(BeFalse())
		Expect(client.exchange(several(0x0F, 1969, 247))).To(Equal(refused(0x0F, 3)))
		Expect(client.exchange(several(0x0F, 0, 0))).To(Equal(refused(0x0F, 3)))
	})

	It("MB-23: writes 1 to 123 registers (spec 6.12)", func() {
		Expect(client.exchange(several(0x10, 123, 246))).To(Equal(quantity(0x10, 123)))
		Expect(device.holding[122]).To(Equal(uint16(0xFFFF)))
		Expect(device.holding[123]).To(Equal(uint16(0)))
		// 124 registers do not fit into a PDU (MB-30), so the data end early.
		tooMany := append(append(quantity(0x10, 124), 248), make([]byte, 247)...)
		Expect(tooMany).To(HaveLen(253))
		Expect(client.exchange(tooMany)).To(Equal(refused(0x10, 3)))
		Expect(client.exchange(several(0x10, 0, 0))).To(Equal(refused(0x10, 3)))
	})

	It("MB-24: reads 1 to 125 and writes 1 to 121 registers at once (spec 6.17)", func() {
		both := func(read, write, size int) []byte {
			pdu := []byte{0x17, 0, 0, 0, byte(read), 1, 0, 0, byte(write), byte(2 * write)}
			return append(pdu, make([]byte, size)...)
		}
		Expect(client.exchange(both(125, 121, 242))).To(HaveLen(252))
		Expect(client.exchange(both(126, 121, 242))).To(Equal(refused(0x17, 3)))
		// 122 registers do not fit into a PDU either.
		Expect(client.exchange(both(125, 122, 243))).To(Equal(refused(0x17, 3)))
		Expect(client.exchange(both(0, 1, 2))).To(Equal(refused(0x17, 3)))
		Expect(client.exchange(both(1, 0, 0))).To(Equal(refused(0x17, 3)))
	})

	It("MB-25: takes FF00 and 0000 for a coil, and nothing else (spec 6.5)", func() {
		Expect(client.exchange(bytesOf("05 00 07 FF 00"))).To(Equal(bytesOf("05 00 07 FF 00")))
		for _, value := range []string{"0001", "FF01", "00FF", "0100"} {
			Expect(client.exchange(bytesOf("05 00 07" + value))).To(Equal(bytesOf("85 03")))
			Expect(device.coils[7]).To(BeTrue())
		}
		Expect(client.exchange(bytesOf("05 00 07 00 00"))).To(Equal(bytesOf("05 00 07 00 00")))
		Expect(device.coils[7]).To(BeFalse())
	})

	It("MB-26: refuses a byte count that does not fit the quantity (spec 6.11, 6.12)", func() {
		Expect(client.exchange(bytesOf("0F 00 00 00 0A 03 CD 01"))).To(Equal(bytesOf("8F 03")))
		Expect(client.exchange(bytesOf("10 00 00 00 02 02 00 0A 01 02"))).To(Equal(bytesOf("90 03")))
		Expect(device.accessCount()).To(BeZero())
	})

	DescribeTable("MB-27: the last address is served, and nothing past it (spec, figures 11 to 14)",
		func(last, past string) {
			function := bytesOf(last)[0]
			Expect(client.exchange(bytesOf(last))[0]).To(Equal(function))
			before := device.accessCount()
			Expect(client.exchange(bytesOf(past))).To(Equal(refused(function, 2)))
			Expect(device.accessCount()).To(Equal(before), "the device is not asked")
		},
		Entry("coils", "01 FF FF 00 01", "01 FF FF 00 02"),
		Entry("discrete inputs", "02 FF FF 00 01", "02 FF FF 00 02"),
		Entry("holding registers", "03 FF FF 00 01", "03 FF FF 00 02"),
		Entry("input registers", "04 FF FF 00 01", "04 FF FF 00 02"),
		Entry("coil writes", "0F FF FF 00 01 01 01", "0F FF FF 00 02 01 03"),
		Entry("register writes", "10 FF FF 00 01 02 00 01", "10 FF FF 00 02 04 00 01 00 01"),
		Entry("read part of 17", "17 FF FF 00 01 00 00 00 01 02 00 01", "17 FF FF 00 02 00 00 00 01 02 00 01"),
		Entry("write part of 17", "17 00 00 00 01 FF FF 00 01 02 00 01", "17 00 00 00 01 FF FF 00 02 04 00 01 00 01"),
	)

	It("MB-28: sends the first check that fails: function, quantity, address, processing (from memory)", func() {
		device.fail(modbus.ServerDeviceFailure)
		Expect(client.exchange(bytesOf("09 FF FF 00 00"))).To(Equal(bytesOf("89 01")))
		Expect(client.exchange(bytesOf("03 FF FF 00 00"))).To(Equal(bytesOf("83 03")))
		Expect(client.exchange(bytesOf("03 FF FF 00 02"))).To(Equal(bytesOf("83 02")))
		Expect(client.exchange(bytesOf("03 FF FF 00 01"))).To(Equal(bytesOf("83 04")))
	})

	It("MB-29: sends each exception that a device returns, wrapped or not (spec 7)", func() {
		Expect([]modbus.Exception{
			modbus.IllegalFunction, modbus.IllegalDataAddress, modbus.IllegalDataValue,
			modbus.ServerDeviceFailure, modbus.Acknowledge, modbus.ServerDeviceBusy,
			modbus.MemoryParity, modbus.GatewayPathUnavailable, modbus.GatewayTargetFailed,
		}).To(Equal([]modbus.Exception{1, 2, 3, 4, 5, 6, 8, 0x0A, 0x0B}))
		for code := modbus.Exception(1); code <= 0x0B; code++ {
			device.fail(code)
			Expect(client.exchange(bytesOf("06 00 00 00 01"))).To(Equal([]byte{0x86, byte(code)}))
			device.fail(fmt.Errorf("oven door: %w", code))
			Expect(client.exchange(bytesOf("01 00 00 00 01"))).To(Equal([]byte{0x81, byte(code)}))
		}
		device.fail(fmt.Errorf("oven door"))
		Expect(client.exchange(bytesOf("18 00 00"))).To(Equal(bytesOf("98 04")))
		Expect(modbus.MemoryParity.Error()).To(Equal("modbus exception 08: memory parity error"))
	})

	It("MB-30: takes a PDU of 253 bytes and hangs up on a longer one (spec 4.1)", func() {
		longest := append(bytesOf("0F 00 00 07 B0 F6"), make([]byte, 247)...)
		Expect(longest).To(HaveLen(253))
		Expect(client.exchange(longest)).To(Equal(bytesOf("8F 03")), "one byte more than the quantity needs")
		client.send(frame(1, 1, append(longest, 0)))
		_, err := client.Read(make([]byte, 1))
		Expect(err).To(HaveOccurred())
	})
})

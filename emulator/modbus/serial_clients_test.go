package modbus_test

import (
	"maps"
	"net"
	"os/exec"
	"slices"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	simonvetter "github.com/simonvetter/modbus"

	"kilter/emulator/modbus"
)

var _ = Describe("independent clients of RTU", func() {
	for _, how := range slices.Sorted(maps.Keys(wires)) {
		scheme := map[string]string{pseudoTerminal: "rtu://", "over TCP": "rtuovertcp://"}[how]
		It("simonvetter/modbus reads and writes "+how, func() {
			north, south := newMemory(3000), newMemory(10)
			for i := range north.input {
				north.input[i] = uint16(i) * 7
				north.inputs[i] = i%3 == 0
			}
			server := serveRTU(how, map[byte]modbus.Device{1: north, 2: south})
			connect := func(timeout time.Duration) *simonvetter.ModbusClient {
				GinkgoHelper()
				client, err := simonvetter.NewClient(&simonvetter.ClientConfiguration{
					URL: scheme + server.Addr().String(), Speed: 115200, Timeout: timeout})
				Expect(err).NotTo(HaveOccurred())
				Expect(client.Open()).To(Succeed())
				return client
			}
			// A busy host may keep a client or the server waiting for a second.
			hasty := connect(100 * time.Millisecond)
			Expect(hasty.SetUnitId(3)).To(Succeed())
			_, err := hasty.ReadRegister(0, simonvetter.HOLDING_REGISTER)
			Expect(err).To(MatchError(simonvetter.ErrRequestTimedOut), "no such unit")
			Expect(hasty.Close()).To(Succeed())
			client := connect(5 * time.Second)
			DeferCleanup(client.Close)

			Expect(client.SetUnitId(1)).To(Succeed())
			Expect(client.WriteRegister(10, 7)).To(Succeed())
			Expect(client.ReadRegister(10, simonvetter.HOLDING_REGISTER)).To(Equal(uint16(7)))
			Expect(client.ReadRegisters(0, 125, simonvetter.INPUT_REGISTER)).To(Equal(north.input[:125]))
			Expect(client.WriteCoils(100, []bool{true, false, true})).To(Succeed())
			Expect(client.WriteCoil(101, true)).To(Succeed())
			Expect(client.ReadCoils(99, 5)).To(Equal([]bool{false, true, true, true, false}))
			Expect(client.ReadDiscreteInputs(0, 1900)).To(Equal(north.inputs[:1900]))
			_, err = client.ReadRegister(3000, simonvetter.INPUT_REGISTER)
			Expect(err).To(MatchError(simonvetter.ErrIllegalDataAddress))

			Expect(client.SetUnitId(2)).To(Succeed())
			Expect(client.WriteRegister(3, 9)).To(Succeed())
			Expect(south.register(3)).To(Equal(uint16(9)))
			Expect(client.SetUnitId(1)).To(Succeed())
			Expect(client.ReadRegister(10, simonvetter.HOLDING_REGISTER)).To(Equal(uint16(7)))

			// The register encodings as a client of the trade lays them out.
			for _, row := range []struct {
				source  string
				order   simonvetter.Endianness
				words   simonvetter.WordOrder
				value   float32
				on, off uint16
			}{
				{"MB-70 ABCD (libmodbus unit-test.h.in)", simonvetter.BIG_ENDIAN, simonvetter.HIGH_WORD_FIRST, 123456, 0x47F1, 0x2000},
				{"MB-70 CDAB (libmodbus unit-test.h.in)", simonvetter.BIG_ENDIAN, simonvetter.LOW_WORD_FIRST, 123456, 0x2000, 0x47F1},
				{"MB-70 BADC (libmodbus unit-test.h.in)", simonvetter.LITTLE_ENDIAN, simonvetter.HIGH_WORD_FIRST, 123456, 0xF147, 0x0020},
				{"MB-70 DCBA (libmodbus unit-test.h.in)", simonvetter.LITTLE_ENDIAN, simonvetter.LOW_WORD_FIRST, 123456, 0x0020, 0xF147},
				{"MB-71 1.0 (IEEE 754)", simonvetter.BIG_ENDIAN, simonvetter.HIGH_WORD_FIRST, 1, 0x3F80, 0},
				{"MB-71 -1.0 (IEEE 754)", simonvetter.BIG_ENDIAN, simonvetter.HIGH_WORD_FIRST, -1, 0xBF80, 0},
				{"MB-71 230.5 (IEEE 754)", simonvetter.BIG_ENDIAN, simonvetter.HIGH_WORD_FIRST, 230.5, 0x4366, 0x8000},
				{"MB-71 -2500.0 (IEEE 754)", simonvetter.BIG_ENDIAN, simonvetter.HIGH_WORD_FIRST, -2500, 0xC51C, 0x4000},
				{"MB-71 49.98 (IEEE 754)", simonvetter.BIG_ENDIAN, simonvetter.HIGH_WORD_FIRST, 49.98, 0x4247, 0xEB85},
			} {
				Expect(client.SetEncoding(row.order, row.words)).To(Succeed())
				Expect(client.WriteFloat32(20, row.value)).To(Succeed())
				Expect([]uint16{north.register(20), north.register(21)}).To(Equal([]uint16{row.on, row.off}), row.source)
				Expect(client.ReadFloat32(20, simonvetter.HOLDING_REGISTER)).To(Equal(row.value), row.source)
			}
			// MB-72: two's complement.
			Expect(client.SetEncoding(simonvetter.BIG_ENDIAN, simonvetter.HIGH_WORD_FIRST)).To(Succeed())
			for _, value := range []int16{-1, -2500, -32768} {
				Expect(client.WriteRegister(20, uint16(value))).To(Succeed())
				Expect(client.WriteUint32(22, uint32(int32(value)))).To(Succeed())
				Expect(int16(north.register(20))).To(Equal(value))
				Expect([]uint16{north.register(22), north.register(23)}).To(Equal([]uint16{0xFFFF, uint16(value)}))
			}
		})
	}

	It("mbpoll reads and writes on a pseudo-terminal", func() {
		program, err := exec.LookPath("mbpoll")
		if err != nil {
			Skip("mbpoll is missing on this machine")
		}
		device := newMemory(100)
		device.holding[9], device.holding[10], device.input[0] = 555, 100, 0xF63C
		server := serveRTU(pseudoTerminal, map[byte]modbus.Device{17: device})
		run := func(arguments ...string) (string, error) {
			all := append([]string{"-m", "rtu", "-b", "19200", "-P", "none", "-a", "17", "-1", "-o", "2"}, arguments...)
			printed, err := exec.Command(program, all...).CombinedOutput()
			return string(printed), err
		}
		path := server.Addr().String()
		printed, err := run("-0", "-r", "9", "-c", "2", path)
		Expect(err).NotTo(HaveOccurred(), printed)
		Expect(printed).To(And(MatchRegexp(`\[9\]:\s+555`), MatchRegexp(`\[10\]:\s+100`)))
		printed, err = run("-0", "-t", "3:hex", "-r", "0", path)
		Expect(err).NotTo(HaveOccurred(), printed)
		Expect(printed).To(MatchRegexp(`\[0\]:\s+0xF63C`))
		printed, err = run("-0", "-r", "30", path, "4711", "42")
		Expect(err).NotTo(HaveOccurred(), printed)
		Expect([]uint16{device.register(30), device.register(31)}).To(Equal([]uint16{4711, 42}))
		printed, _ = run("-0", "-r", "99", "-c", "2", path)
		Expect(printed).To(ContainSubstring("Illegal data address"))
	})

	It("mbpoll reads over TCP", func() {
		program, err := exec.LookPath("mbpoll")
		if err != nil {
			Skip("mbpoll is missing on this machine")
		}
		device := newMemory(100)
		device.holding[9] = 555
		_, number, err := net.SplitHostPort(serveOne(device).Addr().String())
		Expect(err).NotTo(HaveOccurred())
		printed, err := exec.Command(program, "-p", number, "-a", "1", "-0", "-r", "9", "-1", "127.0.0.1").CombinedOutput()
		Expect(err).NotTo(HaveOccurred(), string(printed))
		Expect(string(printed)).To(MatchRegexp(`\[9\]:\s+555`))
	})
})

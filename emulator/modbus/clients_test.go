package modbus_test

import (
	goburrow "github.com/goburrow/modbus"
	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	simonvetter "github.com/simonvetter/modbus"

	"kilter/emulator/modbus"
)

var _ = Describe("independent clients", func() {
	var device *memory
	var server *modbus.Server
	BeforeEach(func() {
		device = newMemory(3000)
		for i := range device.input {
			device.input[i] = uint16(i) * 7
			device.inputs[i] = i%3 == 0
		}
		server = serveOne(device)
	})

	It("goburrow/modbus uses every function it has", func() {
		handler := goburrow.NewTCPClientHandler(server.Addr().String())
		handler.SlaveId = 1
		Expect(handler.Connect()).To(Succeed())
		defer handler.Close()
		client := goburrow.NewClient(handler)

		got := func(raw []byte, err error) []byte {
			GinkgoHelper()
			Expect(err).NotTo(HaveOccurred())
			return raw
		}
		got(client.WriteSingleRegister(10, 0x1234))
		got(client.WriteMultipleRegisters(11, 2, bytesOf("AABB CCDD")))
		Expect(got(client.ReadHoldingRegisters(10, 3))).To(Equal(bytesOf("1234 AABB CCDD")))
		Expect(got(client.ReadInputRegisters(2, 2))).To(Equal(bytesOf("000E 0015")))
		got(client.WriteSingleCoil(3, 0xFF00))
		got(client.WriteMultipleCoils(4, 3, []byte{0b101}))
		Expect(got(client.ReadCoils(0, 8))).To(Equal([]byte{0b01011000}))
		Expect(got(client.ReadDiscreteInputs(0, 7))).To(Equal([]byte{0b1001001}))
		got(client.MaskWriteRegister(10, 0xFF00, 0x0056))
		Expect(got(client.ReadWriteMultipleRegisters(10, 1, 20, 1, bytesOf("0001")))).To(Equal(bytesOf("1256")))
		Expect(device.register(20)).To(Equal(uint16(1)))

		_, err := client.ReadHoldingRegisters(2999, 2)
		Expect(err).To(HaveOccurred())
		Expect(err.(*goburrow.ModbusError).ExceptionCode).To(Equal(byte(goburrow.ExceptionCodeIllegalDataAddress)))
	})

	It("simonvetter/modbus reads and writes", func() {
		client, err := simonvetter.NewClient(&simonvetter.ClientConfiguration{URL: "tcp://" + server.Addr().String()})
		Expect(err).NotTo(HaveOccurred())
		Expect(client.Open()).To(Succeed())
		defer client.Close()

		Expect(client.WriteRegister(10, 7)).To(Succeed())
		Expect(client.WriteFloat32(11, 230.5)).To(Succeed())
		Expect(client.ReadFloat32(11, simonvetter.HOLDING_REGISTER)).To(Equal(float32(230.5)))
		Expect(client.ReadRegister(10, simonvetter.HOLDING_REGISTER)).To(Equal(uint16(7)))
		Expect(client.ReadRegisters(0, 125, simonvetter.INPUT_REGISTER)).To(Equal(device.input[:125]))
		Expect(client.WriteCoils(100, []bool{true, false, true})).To(Succeed())
		Expect(client.WriteCoil(101, true)).To(Succeed())
		Expect(client.ReadCoils(99, 5)).To(Equal([]bool{false, true, true, true, false}))
		Expect(client.ReadDiscreteInputs(0, 2000)).To(Equal(device.inputs[:2000]))

		_, err = client.ReadRegister(3000, simonvetter.INPUT_REGISTER)
		Expect(err).To(MatchError(simonvetter.ErrIllegalDataAddress))
		Expect(client.SetUnitId(9)).To(Succeed())
		_, err = client.ReadRegister(0, simonvetter.INPUT_REGISTER)
		Expect(err).To(MatchError(simonvetter.ErrGWTargetFailedToRespond))
	})
})

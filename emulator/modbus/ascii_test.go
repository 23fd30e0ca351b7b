package modbus_test

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	goburrow "github.com/goburrow/modbus"
	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator/modbus"
)

// inASCII frames bytes as MODBUS over Serial Line V1.02, 2.5.2, says.
func inASCII(digits string) []byte {
	raw := bytesOf(digits)
	var sum byte
	for _, b := range raw {
		sum += b
	}
	return fmt.Appendf(nil, ":%X%02X\r\n", raw, byte(-int(sum)))
}

var _ = Describe("Modbus ASCII", func() {
	for _, how := range slices.Sorted(maps.Keys(wires)) {
		Describe(how, func() {
			var device *memory
			var server *modbus.Server
			var client port
			BeforeEach(func() {
				device = newMemory(200)
				copy(device.holding[0x6B:], []uint16{555, 0, 100})
				var err error
				server, err = startRTU(how, map[byte]modbus.Device{0x11: device, 1: newMemory(300)}, modbus.RTUOptions{
					ASCII: true, Options: modbus.Options{FrameTimeout: 100 * time.Millisecond}})
				Expect(err).NotTo(HaveOccurred())
				DeferCleanup(server.Close)
				client = open(server)
			})
			sane := func(explain ...any) {
				GinkgoHelper()
				client.send([]byte(":1103006B00037E\r\n"))
				client.expect(inASCII("11 03 06 022B 0000 0064"), explain...)
			}

			It("MB-63: has the check F1 for 01 03 01 0A, and the frame :1103006B00037E (goburrow/modbus lrc_test.go, asciiclient_test.go)", func() {
				Expect(inASCII("01 03 01 0A")).To(Equal([]byte(":0103010AF1\r\n")))
				Expect(inASCII("11 03 006B 0003")).To(Equal([]byte(":1103006B00037E\r\n")))
				client.send([]byte(":0103010AF1\r\n"))
				client.expect(inASCII("01 83 03"), "a read cut short")
				sane()
			})

			It("answers no frame that is broken, and hears the next", func() {
				for _, broken := range []string{
					":1103006B00037F\r\n", ":1103006B0003\r\n", ":1103006B00037E\n", "1103006B00037E\r\n", ":1103006B0003 7E\r\n",
					":11G3006B00037E\r\n", ":1103006B00037\r\n", ":\r\n", ":11EF\r\n", "\r\n", ":0903006B000386\r\n",
					":" + strings.Repeat("00", 256) + "\r\n", strings.Repeat("noise", 500) + "\r\n",
				} {
					client.send([]byte(broken))
					client.expectNothing("%q", broken)
					sane("after %q", broken)
				}
			})

			It("begins anew with each colon, and gives up a frame that pauses", func() {
				client.send([]byte(":1106000300"))
				sane()
				client.send([]byte(":1103006B"))
				time.Sleep(150 * time.Millisecond)
				client.send([]byte("00037E\r\n"))
				client.expectNothing()
				sane()
			})

			It("takes frames in pieces and several in one", func() {
				for _, b := range []byte(":1103006B00037E\r\n") {
					client.send([]byte{b})
				}
				client.expect(inASCII("11 03 06 022B 0000 0064"))
				client.send(append(inASCII("11 06 0003 ABCD"), inASCII("11 03 0003 0001")...))
				client.expect(inASCII("11 06 0003 ABCD"))
				client.expect(inASCII("11 03 02 ABCD"))
			})

			It("executes a broadcast, and takes the longest frame", func() {
				client.send(inASCII("00 06 0003 ABCD"))
				client.expectNothing()
				Expect(device.register(3)).To(Equal(uint16(0xABCD)))
				client.send(inASCII("01 0F 0000 07B1 F7" + strings.Repeat("00", 247)))
				client.expect(inASCII("01 8F 03"))
				sane()
			})

			It("survives bytes without any line", func() {
				client.send([]byte(strings.Repeat(":", 20000)))
				sane()
				client.send(make([]byte, 3000))
				sane()
			})
		})
	}

	It("goburrow/modbus reads and writes on a pseudo-terminal", func() {
		device := newMemory(300)
		server, err := startRTU(pseudoTerminal, map[byte]modbus.Device{0x11: device}, modbus.RTUOptions{ASCII: true})
		Expect(err).NotTo(HaveOccurred())
		DeferCleanup(server.Close)
		handler := goburrow.NewASCIIClientHandler(server.Addr().String())
		handler.SlaveId, handler.BaudRate, handler.Parity, handler.Timeout = 0x11, 115200, "N", 2*time.Second
		Expect(handler.Connect()).To(Succeed())
		DeferCleanup(handler.Close)
		client := goburrow.NewClient(handler)
		_, err = client.WriteMultipleRegisters(11, 2, bytesOf("AABB CCDD"))
		Expect(err).NotTo(HaveOccurred())
		Expect(client.ReadHoldingRegisters(11, 2)).To(Equal(bytesOf("AABB CCDD")))
		_, err = client.ReadHoldingRegisters(299, 2)
		Expect(err).To(MatchError(ContainSubstring("illegal data address")))
	})
})

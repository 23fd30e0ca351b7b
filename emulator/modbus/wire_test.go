package modbus_test

import (
	"bytes"
	"encoding/binary"
	"encoding/hex"
	"io"
	"net"
	"strings"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator/modbus"
)

// bytesOf reads hex digits; blanks are for the reader.
func bytesOf(digits string) []byte {
	raw, err := hex.DecodeString(strings.ReplaceAll(digits, " ", ""))
	if err != nil {
		panic(err)
	}
	return raw
}

// frame puts an MBAP header before a PDU.
func frame(transaction uint16, unit byte, pdu []byte) []byte {
	header := binary.BigEndian.AppendUint16(nil, transaction)
	header = append(header, 0, 0)
	header = binary.BigEndian.AppendUint16(header, uint16(1+len(pdu)))
	return append(append(header, unit), pdu...)
}

// quantity builds a PDU that reads, from address 0.
func quantity(function byte, count int) []byte {
	return []byte{function, 0, 0, byte(count >> 8), byte(count)}
}

// several builds a PDU that writes (0F, 10) from address 0, with size data bytes.
func several(function byte, count, size int) []byte {
	return append(append(quantity(function, count), byte(size)), bytes.Repeat([]byte{0xFF}, size)...)
}

// serve starts a server on a free loopback port and stops it after the spec.
func serve(units map[byte]modbus.Device, options modbus.Options) *modbus.Server {
	GinkgoHelper()
	server, err := modbus.Listen("127.0.0.1:0", units, options)
	Expect(err).NotTo(HaveOccurred())
	DeferCleanup(server.Close)
	return server
}

func serveOne(device modbus.Device) *modbus.Server {
	GinkgoHelper()
	return serve(map[byte]modbus.Device{1: device}, modbus.Options{})
}

// wire is a client that sends what no library would.
type wire struct{ net.Conn }

func dial(server *modbus.Server) wire {
	GinkgoHelper()
	conn, err := net.Dial("tcp", server.Addr().String())
	Expect(err).NotTo(HaveOccurred())
	DeferCleanup(func() { _ = conn.Close() }) // a spec may have closed it
	Expect(conn.SetDeadline(time.Now().Add(10 * time.Second))).To(Succeed())
	return wire{conn}
}

func (w wire) send(raw []byte) {
	GinkgoHelper()
	_, err := w.Write(raw)
	Expect(err).NotTo(HaveOccurred())
}

// receive reads one frame.
func (w wire) receive() []byte {
	GinkgoHelper()
	raw := make([]byte, 6, 260)
	_, err := io.ReadFull(w, raw)
	Expect(err).NotTo(HaveOccurred())
	raw = raw[:6+int(binary.BigEndian.Uint16(raw[4:]))]
	_, err = io.ReadFull(w, raw[6:])
	Expect(err).NotTo(HaveOccurred())
	return raw
}

// exchange sends a PDU to unit 1 and returns the reply's PDU.
func (w wire) exchange(pdu []byte) []byte {
	GinkgoHelper()
	w.send(frame(0x0102, 1, pdu))
	reply := w.receive()
	Expect(reply[:4]).To(Equal([]byte{1, 2, 0, 0}))
	Expect(reply[6]).To(Equal(byte(1)))
	return reply[7:]
}

func (w wire) expectEnd() {
	GinkgoHelper()
	rest, err := io.ReadAll(w)
	Expect(err).NotTo(HaveOccurred())
	Expect(rest).To(BeEmpty())
}

// expectSane reads a register on a new connection: the server still serves.
func expectSane(server *modbus.Server) {
	GinkgoHelper()
	client := dial(server)
	defer client.Close()
	client.expectSaneHere()
}

func (w wire) expectSaneHere() {
	GinkgoHelper()
	w.send(frame(0xBEEF, 1, bytesOf("03 00 00 00 01")))
	reply := w.receive()
	Expect(reply[:9]).To(Equal(bytesOf("BE EF 00 00 00 05 01 03 02")))
}

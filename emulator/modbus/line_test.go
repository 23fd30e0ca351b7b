package modbus_test

import (
	"errors"
	"io"
	"io/fs"
	"net"
	"os"
	"runtime"
	"sync/atomic"
	"syscall"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator/modbus"
)

// sealed appends the checksum of MODBUS over Serial Line V1.02, 2.5.1.2, worked
// out bit by bit, so that the server's own is not its judge.
func sealed(raw []byte) []byte {
	sum := uint16(0xFFFF)
	for _, b := range raw {
		sum ^= uint16(b)
		for range 8 {
			low := sum & 1
			sum >>= 1
			if low == 1 {
				sum ^= 0xA001
			}
		}
	}
	return append(append([]byte(nil), raw...), byte(sum), byte(sum>>8))
}

// wires are the two ways to speak RTU. On both, a pause of 30 ms ends a frame
// whatever the host is busy with.
var wires = map[string]func(units map[byte]modbus.Device, options modbus.RTUOptions) (*modbus.Server, error){
	pseudoTerminal: modbus.ListenRTU,
	"over TCP": func(units map[byte]modbus.Device, options modbus.RTUOptions) (*modbus.Server, error) {
		return modbus.ListenRTUOverTCP("127.0.0.1:0", units, options)
	},
}

const (
	pseudoTerminal = "on a pseudo-terminal"
	pause          = 30 * time.Millisecond
)

// startRTU starts a server on a line, where this machine can have one.
func startRTU(how string, units map[byte]modbus.Device, options modbus.RTUOptions) (*modbus.Server, error) {
	if how == pseudoTerminal && runtime.GOOS != "linux" {
		Skip("pseudo-terminals are served on Linux only")
	}
	server, err := wires[how](units, options)
	if how == pseudoTerminal && errors.Is(err, fs.ErrNotExist) {
		Skip("this machine has no /dev/ptmx")
	}
	return server, err
}

func serveRTU(how string, units map[byte]modbus.Device) *modbus.Server {
	GinkgoHelper()
	server, err := startRTU(how, units, modbus.RTUOptions{Pause: pause})
	Expect(err).NotTo(HaveOccurred())
	DeferCleanup(server.Close)
	return server
}

// port is a client that writes raw RTU frames.
type port struct {
	io.ReadWriteCloser
	deadline interface{ SetDeadline(time.Time) error }
}

// open opens what the server offers: a terminal's path or a TCP address.
func open(server *modbus.Server) port {
	GinkgoHelper()
	var p port
	if server.Addr().Network() == "pty" {
		file, err := os.OpenFile(server.Addr().String(), os.O_RDWR|syscall.O_NOCTTY, 0)
		Expect(err).NotTo(HaveOccurred())
		p = port{file, file}
	} else {
		conn, err := net.Dial("tcp", server.Addr().String())
		Expect(err).NotTo(HaveOccurred())
		p = port{conn, conn}
	}
	DeferCleanup(func() { _ = p.Close() }) // a spec may have closed it
	return p
}

func (p port) send(raw []byte) {
	GinkgoHelper()
	Expect(p.deadline.SetDeadline(time.Now().Add(5 * time.Second))).To(Succeed())
	_, err := p.Write(raw)
	Expect(err).NotTo(HaveOccurred())
}

// expect reads exactly these bytes.
func (p port) expect(want []byte, explain ...any) {
	GinkgoHelper()
	Expect(p.deadline.SetDeadline(time.Now().Add(5 * time.Second))).To(Succeed())
	got := make([]byte, len(want))
	n, err := io.ReadFull(p, got)
	Expect(got[:n]).To(Equal(want), explain...)
	Expect(err).NotTo(HaveOccurred(), explain...)
}

// expectNothing waits for long enough that a reply would have come.
func (p port) expectNothing(explain ...any) {
	GinkgoHelper()
	Expect(p.deadline.SetDeadline(time.Now().Add(2 * pause))).To(Succeed())
	rest := make([]byte, 300)
	n, err := p.Read(rest)
	Expect(rest[:n]).To(BeEmpty(), explain...)
	Expect(err).To(MatchError(os.ErrDeadlineExceeded), explain...)
}

// unheard counts the sane reads that had to be asked twice: where the host lets
// the server sleep through a silence, a frame is lost as on a real line, and a
// client asks again.
var unheard atomic.Int64

var _ = AfterSuite(func() {
	Expect(unheard.Load()).To(BeNumerically("<", 10), "silences are not heard")
})

// expectSane reads register 0 of unit 0x11.
func (p port) expectSane(explain ...any) {
	GinkgoHelper()
	want := sealed(bytesOf("11 03 02 00 00"))
	p.send(sealed(bytesOf("11 03 00 00 00 01")))
	Expect(p.deadline.SetDeadline(time.Now().Add(time.Second))).To(Succeed())
	got := make([]byte, len(want))
	n, err := io.ReadFull(p, got)
	if n == 0 && errors.Is(err, os.ErrDeadlineExceeded) {
		unheard.Add(1)
		p.send(sealed(bytesOf("11 03 00 00 00 01")))
		p.expect(want, explain...)
		return
	}
	Expect(got[:n]).To(Equal(want), explain...)
}

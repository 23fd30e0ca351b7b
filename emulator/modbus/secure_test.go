package modbus_test

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"io"
	"math/big"
	"net"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	simonvetter "github.com/simonvetter/modbus"
	"go.uber.org/goleak"

	"kilter/emulator/modbus"
)

// selfSigned makes a certificate that signs itself, for loopback.
func selfSigned(name string) (tls.Certificate, *x509.CertPool) {
	GinkgoHelper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	Expect(err).NotTo(HaveOccurred())
	template := x509.Certificate{
		SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: name}, IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)},
		NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour), BasicConstraintsValid: true, IsCA: true,
		KeyUsage:    x509.KeyUsageDigitalSignature | x509.KeyUsageCertSign,
		ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth, x509.ExtKeyUsageClientAuth},
	}
	raw, err := x509.CreateCertificate(rand.Reader, &template, &template, &key.PublicKey, key)
	Expect(err).NotTo(HaveOccurred())
	parsed, err := x509.ParseCertificate(raw)
	Expect(err).NotTo(HaveOccurred())
	pool := x509.NewCertPool()
	pool.AddCert(parsed)
	return tls.Certificate{Certificate: [][]byte{raw}, PrivateKey: key, Leaf: parsed}, pool
}

// What is tested is TLS as MODBUS/TCP Security (2018) asks for it: version 1.2
// or later, both sides with a certificate. Roles in a certificate are not.
var _ = Describe("Modbus/TCP Security", func() {
	var device *memory
	var server *modbus.Server
	var ours tls.Certificate
	var theirs *x509.CertPool
	BeforeEach(func() {
		serverKey, serverPool := selfSigned("bakery")
		clientKey, clientPool := selfSigned("controller")
		ours, theirs = clientKey, serverPool
		device = newMemory(200)
		server = serve(map[byte]modbus.Device{1: device}, modbus.Options{
			FrameTimeout: 300 * time.Millisecond,
			TLS: &tls.Config{
				Certificates: []tls.Certificate{serverKey}, MinVersion: tls.VersionTLS12,
				ClientAuth: tls.RequireAndVerifyClientCert, ClientCAs: clientPool,
			}})
	})
	secured := func() wire {
		GinkgoHelper()
		conn, err := tls.Dial("tcp", server.Addr().String(), &tls.Config{Certificates: []tls.Certificate{ours}, RootCAs: theirs})
		Expect(err).NotTo(HaveOccurred())
		DeferCleanup(func() { _ = conn.Close() })
		Expect(conn.SetDeadline(time.Now().Add(5 * time.Second))).To(Succeed())
		return wire{conn}
	}

	It("serves a client with the right certificate, in any segments, pipelined, and past pauses", func() {
		client := secured()
		for range 3 {
			client.expectSaneHere()
			time.Sleep(400 * time.Millisecond) // longer than the handshake may take
		}
		whole := frame(1, 1, bytesOf("06 00 05 00 09"))
		for _, part := range append(whole, whole...) {
			client.send([]byte{part})
		}
		Expect(client.receive()).To(Equal(whole))
		Expect(client.receive()).To(Equal(whole))
	})

	It("serves simonvetter/modbus", func() {
		client, err := simonvetter.NewClient(&simonvetter.ClientConfiguration{
			URL: "tcp+tls://" + server.Addr().String(), TLSClientCert: &ours, TLSRootCAs: theirs})
		Expect(err).NotTo(HaveOccurred())
		Expect(client.Open()).To(Succeed())
		DeferCleanup(client.Close)
		Expect(client.WriteRegisters(10, []uint16{1, 2, 3})).To(Succeed())
		Expect(client.ReadRegisters(10, 3, simonvetter.HOLDING_REGISTER)).To(Equal([]uint16{1, 2, 3}))
	})

	It("turns away a client that speaks plainly, that has no certificate, or that never shakes hands", func() {
		plainly := dial(server)
		plainly.send(frame(1, 1, bytesOf("06 00 05 00 09")))
		_, _ = io.ReadAll(plainly)
		nameless, err := tls.Dial("tcp", server.Addr().String(), &tls.Config{RootCAs: theirs})
		if err == nil {
			// TLS 1.3 tells the client with its first read.
			_, err = nameless.Read(make([]byte, 1))
			nameless.Close()
		}
		Expect(err).To(MatchError(ContainSubstring("certificate required")))
		silent := dial(server)
		silent.expectEnd()
		Eventually(func() int { return server.Stats().Open }).Should(BeZero())
		Expect(device.accessCount()).To(BeZero())
		secured().expectSaneHere()
	})

	It("releases a device call, resets and closes as without TLS", func() {
		before := goleak.IgnoreCurrent()
		waiting := newWaiter(true)
		key, pool := selfSigned("bakery")
		theirs = pool
		server = serve(map[byte]modbus.Device{1: waiting}, modbus.Options{TLS: &tls.Config{Certificates: []tls.Certificate{key}}})
		client := secured()
		client.send(frame(2, 1, bytesOf("06 00 05 00 01")))
		<-waiting.entered
		client.Close()
		Eventually(waiting.gaveUp.Load).Should(Equal(int64(1)))

		server.SetFault(1, modbus.Fault{Spoil: modbus.Reset})
		client = secured()
		client.send(frame(2, 1, bytesOf("03 00 00 00 01")))
		_, err := client.Read(make([]byte, 1))
		Expect(err).To(MatchError(ContainSubstring("reset")))
		client.Close()

		server.SetFault(1, modbus.Fault{})
		client = secured()
		client.expectSaneHere()
		Expect(server.Close()).To(Succeed())
		client.Close()
		Expect(goleak.Find(before)).To(Succeed())
	})
})

package emulator_test

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"math/big"
	"net"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"
	simonvetter "github.com/simonvetter/modbus"

	"kilter/emulator"
)

// The independent client is simonvetter/modbus.
var _ = Describe("devices that speak Modbus/TCP Security", func() {
	It("answer a client that has the right certificate, and no plain one, while the clock stays plain", func() {
		key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
		Expect(err).NotTo(HaveOccurred())
		template := x509.Certificate{
			SerialNumber: big.NewInt(1), IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, NotBefore: time.Now().Add(-time.Hour),
			NotAfter: time.Now().Add(time.Hour), BasicConstraintsValid: true, IsCA: true,
			ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth, x509.ExtKeyUsageClientAuth},
		}
		raw, err := x509.CreateCertificate(rand.Reader, &template, &template, &key.PublicKey, key)
		Expect(err).NotTo(HaveOccurred())
		parsed, err := x509.ParseCertificate(raw)
		Expect(err).NotTo(HaveOccurred())
		pool := x509.NewCertPool()
		pool.AddCert(parsed)
		pair := tls.Certificate{Certificate: [][]byte{raw}, PrivateKey: key}

		b := open(story("calm-start"), emulator.Options{Pace: emulator.Stepped, TLS: &tls.Config{
			Certificates: []tls.Certificate{pair}, ClientCAs: pool, ClientAuth: tls.RequireAndVerifyClientCert}})
		play(b, nil)
		north := called(b, "north")
		Expect(north.TLS).To(BeTrue())
		secured, err := simonvetter.NewClient(&simonvetter.ClientConfiguration{
			URL: "tcp+tls://" + north.Address, TLSClientCert: &pair, TLSRootCAs: pool, Timeout: patience})
		Expect(err).NotTo(HaveOccurred())
		Expect(secured.Open()).To(Succeed())
		DeferCleanup(secured.Close)
		Expect(secured.ReadRegisters(40000, 2, simonvetter.HOLDING_REGISTER)).To(Equal([]uint16{0x5375, 0x6E53})) // "SunS"

		c := connect(b)
		Expect(c.link(north.Address, north.Unit).ReadHoldingRegisters(40000, 2)).Error().To(HaveOccurred())
		Expect(c.wait(1000)).To(BeTrue())
	})
})

package queue_test

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"time"

	"github.com/nats-io/jwt/v2"
	"github.com/nats-io/nats-server/v2/server"
	"github.com/nats-io/nkeys"
	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/suites/queue"
)

// guarded runs a server that asks who comes.
func guarded(opt *server.Options) string {
	GinkgoHelper()
	opt.Host, opt.Port, opt.JetStream, opt.StoreDir, opt.NoSigs, opt.NoLog = "127.0.0.1", server.RANDOM_PORT, true, GinkgoT().TempDir(), true, true
	s, err := server.NewServer(opt)
	Expect(err).NotTo(HaveOccurred())
	s.Start()
	Expect(s.ReadyForConnections(10 * time.Second)).To(BeTrue())
	DeferCleanup(s.Shutdown)
	return s.ClientURL()
}

// certificate makes one that is its own authority, for both ends, and the PEM files of it and its key.
func certificate() (pair tls.Certificate, pool *x509.CertPool, cert, private string) {
	GinkgoHelper()
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
	pool = x509.NewCertPool()
	pool.AddCert(parsed)
	bytes, err := x509.MarshalPKCS8PrivateKey(key)
	Expect(err).NotTo(HaveOccurred())
	folder := GinkgoT().TempDir()
	cert, private = filepath.Join(folder, "cert.pem"), filepath.Join(folder, "key.pem")
	Expect(os.WriteFile(cert, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: raw}), 0o600)).To(Succeed())
	Expect(os.WriteFile(private, pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: bytes}), 0o600)).To(Succeed())
	return tls.Certificate{Certificate: [][]byte{raw}, PrivateKey: key}, pool, cert, private
}

var _ = Describe("a queue on a server that asks who comes", func() {
	var ctx context.Context
	BeforeEach(func() {
		var cancel context.CancelFunc
		ctx, cancel = context.WithTimeout(context.Background(), time.Minute)
		DeferCleanup(cancel)
	})
	// open connects and has the queue take a job, or fails.
	open := func(opt queue.Options) error {
		q, err := queue.Open(ctx, opt)
		if err != nil {
			return err
		}
		defer q.Close()
		return q.Submit(ctx, "c", jobs(1))
	}

	It("knows the server by its authority, and shows a certificate of its own", func() {
		pair, pool, cert, key := certificate()
		url := guarded(&server.Options{TLS: true, TLSVerify: true, TLSTimeout: 5,
			TLSConfig: &tls.Config{Certificates: []tls.Certificate{pair}, ClientCAs: pool, ClientAuth: tls.RequireAndVerifyClientCert}})
		Expect(open(queue.Options{URL: url, CA: cert, Certificate: cert, Key: key})).To(Succeed())
		Expect(open(queue.Options{URL: url, CA: cert})).To(MatchError(Or(ContainSubstring("certificate required"), ContainSubstring("closed by remote after TLS handshake"))))
		Expect(open(queue.Options{URL: url, Certificate: cert, Key: key})).To(MatchError(ContainSubstring("unknown authority")))
		_, _, others, _ := certificate()
		Expect(open(queue.Options{URL: url, CA: others, Certificate: cert, Key: key})).To(MatchError(ContainSubstring("certificate")))
	})

	It("comes with credentials", func() {
		operator, err := nkeys.CreateOperator()
		Expect(err).NotTo(HaveOccurred())
		account, err := nkeys.CreateAccount()
		Expect(err).NotTo(HaveOccurred())
		user, err := nkeys.CreateUser()
		Expect(err).NotTo(HaveOccurred())
		public := func(k nkeys.KeyPair) string {
			GinkgoHelper()
			p, err := k.PublicKey()
			Expect(err).NotTo(HaveOccurred())
			return p
		}
		theirs := jwt.NewAccountClaims(public(account))
		theirs.Limits.JetStreamLimits = jwt.JetStreamLimits{DiskStorage: -1, MemoryStorage: -1, Streams: -1, Consumer: -1}
		accountToken, err := theirs.Encode(operator)
		Expect(err).NotTo(HaveOccurred())
		userToken, err := jwt.NewUserClaims(public(user)).Encode(account)
		Expect(err).NotTo(HaveOccurred())
		seed, err := user.Seed()
		Expect(err).NotTo(HaveOccurred())
		text, err := jwt.FormatUserConfig(userToken, seed)
		Expect(err).NotTo(HaveOccurred())
		file := filepath.Join(GinkgoT().TempDir(), "bench.creds")
		Expect(os.WriteFile(file, text, 0o600)).To(Succeed())

		system, err := nkeys.CreateAccount()
		Expect(err).NotTo(HaveOccurred())
		systemToken, err := jwt.NewAccountClaims(public(system)).Encode(operator)
		Expect(err).NotTo(HaveOccurred())

		known := &server.MemAccResolver{}
		Expect(known.Store(public(system), systemToken)).To(Succeed())
		Expect(known.Store(public(account), accountToken)).To(Succeed())
		url := guarded(&server.Options{TrustedOperators: []*jwt.OperatorClaims{jwt.NewOperatorClaims(public(operator))}, AccountResolver: known, SystemAccount: public(system)})
		Expect(open(queue.Options{URL: url, Credentials: file})).To(Succeed())
		Expect(open(queue.Options{URL: url})).To(MatchError(ContainSubstring("Authorization Violation")))
	})
})

package main

import (
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"os"

	"github.com/spf13/cobra"
)

// security is the flags that make the devices speak Modbus/TCP Security.
type security struct{ cert, key, clients string }

func (s *security) flags(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVar(&s.cert, "tls-cert", "", "serve devices on TCP by TLS with the certificate in this PEM `FILE`; the bench clock stays plain")
	f.StringVar(&s.key, "tls-key", "", "the private key of --tls-cert, a PEM `FILE`")
	f.StringVar(&s.clients, "tls-clients", "", "admit only clients whose certificate is signed by one in this PEM `FILE`")
}

// words are the flags as they were given.
func (s *security) words() (list []string) {
	for _, f := range []struct{ name, file string }{{"--tls-cert", s.cert}, {"--tls-key", s.key}, {"--tls-clients", s.clients}} {
		if f.file != "" {
			list = append(list, f.name, quote(f.file))
		}
	}
	return list
}

// config is what the flags ask for, nil for none.
func (s *security) config() (*tls.Config, error) {
	if s.cert == "" && s.key == "" && s.clients == "" {
		return nil, nil
	}
	if s.cert == "" || s.key == "" {
		return nil, errors.New("--tls-cert and --tls-key go together: give both, and --tls-clients beside them only")
	}
	pair, err := tls.LoadX509KeyPair(s.cert, s.key)
	if err != nil {
		return nil, fmt.Errorf("--tls-cert %s, --tls-key %s: %w; give a certificate and its private key, both in PEM", s.cert, s.key, err)
	}
	// MODBUS/TCP Security (2018) asks for TLS 1.2 or later.
	c := &tls.Config{Certificates: []tls.Certificate{pair}, MinVersion: tls.VersionTLS12}
	if s.clients == "" {
		return c, nil
	}
	pem, err := os.ReadFile(s.clients)
	if err != nil {
		return nil, fmt.Errorf("--tls-clients: %w", err)
	}
	c.ClientCAs, c.ClientAuth = x509.NewCertPool(), tls.RequireAndVerifyClientCert
	if !c.ClientCAs.AppendCertsFromPEM(pem) {
		return nil, fmt.Errorf("--tls-clients %s: no certificate in it; give certificates in PEM", s.clients)
	}
	return c, nil
}

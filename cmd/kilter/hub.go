package main

import (
	"errors"
	"fmt"
	"net/url"
	"os"

	"github.com/spf13/cobra"

	"kilter/suites/queue"
)

// queueFlags are the flags that say where campaigns hand out their runs.
func queueFlags(cmd *cobra.Command, o *queue.Options) {
	f := cmd.Flags()
	f.StringVar(&o.URL, "nats", "", "spread the runs over workers through the NATS server at this `URL`, such as tls://host:4222, which has JetStream on")
	f.StringVar(&o.Credentials, "credentials", "", "`FILE` with the user's credentials for the NATS server")
	f.StringVar(&o.CA, "ca", "", "PEM `FILE` with the authorities that sign the NATS server's certificate")
	f.StringVar(&o.Certificate, "cert", "", "PEM `FILE` with a certificate to show the NATS server, where it asks for one")
	f.StringVar(&o.Key, "key", "", "PEM `FILE` with the private key of --cert")
}

// checkQueue says what is wrong with those flags.
func checkQueue(o *queue.Options) error {
	given := []struct{ flag, file string }{{"--credentials", o.Credentials}, {"--ca", o.CA}, {"--cert", o.Certificate}, {"--key", o.Key}}
	for _, g := range given {
		if g.file == "" {
			continue
		}
		if o.URL == "" {
			return fmt.Errorf("%s is for the server of --nats, which is not given", g.flag)
		}
		if _, err := os.Stat(g.file); err != nil {
			return fmt.Errorf("%s: %w", g.flag, err)
		}
	}
	if (o.Certificate == "") != (o.Key == "") {
		return errors.New("--cert and --key go together")
	}
	if u, err := url.Parse(o.URL); o.URL != "" && (err != nil || u.Host == "") {
		return fmt.Errorf("--nats %q: must be a URL, such as nats://127.0.0.1:4222 or tls://host:4222", o.URL)
	}
	return nil
}

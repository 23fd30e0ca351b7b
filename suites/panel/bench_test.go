package panel_test

import (
	"context"
	"net"
	"net/http"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator"
	"kilter/scenarios"
	"kilter/suites"
	"kilter/suites/panel"
)

// served is a bench with its panel.
type served struct {
	scenario *scenarios.Scenario
	bench    *emulator.Bench
	address  string // of the page, without the last slash
	stop     func()
}

// serve puts a story on the wire with a panel at an address, and lets time run at a pace.
func serve(sc *scenarios.Scenario, pace emulator.Pace, at string) *served {
	GinkgoHelper()
	watch, err := suites.NewWatch(sc)
	Expect(err).NotTo(HaveOccurred())
	p := panel.New(panel.Options{Scenario: sc, Site: suites.Wiring(sc), Findings: watch.Findings})
	bench, err := emulator.New(sc, emulator.Options{Pace: pace, Endless: true, Overhear: p.Overhear,
		Observe: []func(*emulator.Tick){watch.See, p.Observe}})
	Expect(err).NotTo(HaveOccurred())
	p.Attach(bench)
	var ln net.Listener
	Eventually(func() error { // a port that was just let go of may take a moment
		ln, err = net.Listen("tcp", at)
		return err
	}, "10s").Should(Succeed())
	handler, err := p.Handler(ln.Addr())
	Expect(err).NotTo(HaveOccurred())
	server := &http.Server{Handler: handler}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan struct{}, 3)
	go func() { defer GinkgoRecover(); server.Serve(ln); done <- struct{}{} }()
	go func() { defer GinkgoRecover(); p.Run(ctx); done <- struct{}{} }()
	go func() { defer GinkgoRecover(); bench.Run(ctx, nil); done <- struct{}{} }()
	stopped := false
	s := &served{scenario: sc, bench: bench, address: "http://" + ln.Addr().String()}
	s.stop = func() {
		if stopped {
			return
		}
		stopped = true
		cancel()
		server.Close()
		bench.Close()
		for range 3 {
			<-done
		}
	}
	DeferCleanup(s.stop)
	return s
}

func story(name string) *scenarios.Scenario {
	GinkgoHelper()
	sc, err := scenarios.Find(name)
	Expect(err).NotTo(HaveOccurred())
	return sc
}

// client asks the panel without a browser.
var client = &http.Client{Timeout: 10 * time.Second}

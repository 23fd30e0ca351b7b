package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"time"

	"kilter/emulator"
	"kilter/scenarios"
	"kilter/suites"
	"kilter/suites/panel"
)

// livePanel is the page of a bench that is served.
type livePanel struct {
	panel *panel.Panel
	watch *suites.Watch
	ln    net.Listener // nil where no page is wanted
}

// noPanel is the address at which there is none.
const noPanel = "off"

// newLivePanel opens the page's port.
func newLivePanel(sc *scenarios.Scenario, address string) (*livePanel, error) {
	if address == noPanel {
		return &livePanel{}, nil
	}
	watch, err := suites.NewWatch(sc)
	if err != nil {
		return nil, err
	}
	ln, err := net.Listen("tcp", address)
	if err != nil {
		return nil, fmt.Errorf("--panel %s: %w", address, err)
	}
	return &livePanel{
		panel: panel.New(panel.Options{Scenario: sc, Site: suites.Wiring(sc), Findings: watch.Findings}),
		watch: watch, ln: ln,
	}, nil
}

// close lets go of a port that was not served.
func (l *livePanel) close() {
	if l.ln != nil {
		l.ln.Close()
	}
}

// look makes the panel an observer of the bench to be.
func (l *livePanel) look(opt *emulator.Options) {
	if l.panel == nil {
		return
	}
	opt.Observe = append(opt.Observe, l.watch.See, l.panel.Observe)
	opt.Overhear = l.panel.Overhear
}

// serve shows the bench until the context ends; what it returns waits for the end.
func (l *livePanel) serve(ctx context.Context, bench *emulator.Bench, out io.Writer) (wait func(), err error) {
	if l.panel == nil {
		return func() {}, nil
	}
	l.panel.Attach(bench)
	handler, err := l.panel.Handler(l.ln.Addr())
	if err != nil {
		return nil, err
	}
	server := &http.Server{Handler: handler, ReadHeaderTimeout: 5 * time.Second, ReadTimeout: 20 * time.Second, IdleTimeout: time.Minute, MaxHeaderBytes: 16 << 10}
	done := make(chan struct{}, 2)
	go func() {
		l.panel.Run(ctx)
		server.Close()
		done <- struct{}{}
	}()
	go func() {
		if err := server.Serve(l.ln); !errors.Is(err, http.ErrServerClosed) {
			fmt.Fprintf(out, "the panel has ended: %v\n", err)
		}
		done <- struct{}{}
	}()
	address := "http://" + l.ln.Addr().String() + "/"
	if token := handler.Token(); token != "" {
		address += "?token=" + token
	}
	fmt.Fprintf(out, "live panel: %s\n", address)
	return func() { <-done; <-done }, nil
}

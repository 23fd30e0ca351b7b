package capture_test

import (
	"io"
	"testing"
	"time"

	"kilter/emulator/capture"
)

// BenchmarkExchange measures one read of ten registers and its reply, at an instant of its own.
func BenchmarkExchange(b *testing.B) {
	r := capture.New(io.Discard, starts)
	c := capture.Connection{Endpoint: 1, Number: 1}
	request, reply := make([]byte, 12), make([]byte, 29)
	b.ReportAllocs()
	at := time.Duration(0)
	for b.Loop() {
		at += time.Second
		r.Ask(at, c, request)
		r.Answer(at, c, request, reply, capture.Stays)
	}
	if err := r.Close(); err != nil {
		b.Fatal(err)
	}
}

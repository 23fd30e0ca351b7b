package emulator_test

import (
	"context"
	"encoding/binary"
	"io"
	"testing"
	"time"

	goburrow "github.com/goburrow/modbus"

	"kilter/emulator"
	"kilter/emulator/capture"
	"kilter/emulator/registers"
	"kilter/scenarios"
)

// BenchmarkSteppedPoll measures one poll of a controller in stepped pace over Modbus TCP: a block read of
// ten registers, and a wait of 10 s of simulated time, which is a hundred steps of the plant.
func BenchmarkSteppedPoll(b *testing.B) { steppedPoll(b, nil) }

// BenchmarkSteppedPollCaptured is the same with the record of the traffic on.
func BenchmarkSteppedPollCaptured(b *testing.B) {
	frames := capture.New(io.Discard, time.Unix(0, 0))
	steppedPoll(b, frames)
	if err := frames.Close(); err != nil {
		b.Fatal(err)
	}
}

// BenchmarkPolicyPoll measures one poll of a policy in the bench's own process: ten single reads, and the same wait.
func BenchmarkPolicyPoll(b *testing.B) {
	sc, err := scenarios.Builtin("calm-start")
	if err != nil {
		b.Fatal(err)
	}
	sc.Lasts = 100_000 * time.Hour
	bench, err := emulator.New(sc, emulator.Options{Pace: emulator.Stepped, Inside: true})
	if err != nil {
		b.Fatal(err)
	}
	defer bench.Close()
	ctx, cancel := context.WithCancel(context.Background())
	n := 0
	b.ReportAllocs()
	b.ResetTimer()
	policy := bench.StartPolicy(emulator.PolicyFunc(func(c *emulator.Client) (time.Duration, error) {
		if n++; n > b.N {
			cancel()
		}
		for range 10 {
			if _, err := c.Read("south", registers.SOC); err != nil {
				return 0, err
			}
		}
		return 10 * time.Second, nil
	}), 0)
	if err := bench.Run(ctx, policy.Gone()); err != context.Canceled {
		b.Fatal(err)
	}
	policy.Stop(time.Second)
}

func steppedPoll(b *testing.B, frames *capture.Recorder) {
	sc, err := scenarios.Builtin("calm-start")
	if err != nil {
		b.Fatal(err)
	}
	sc.Lasts = 100_000 * time.Hour
	bench, err := emulator.New(sc, emulator.Options{Pace: emulator.Stepped, Capture: frames})
	if err != nil {
		b.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan struct{})
	go func() { bench.Run(ctx, nil); close(ended) }()
	defer func() { cancel(); bench.Close(); <-ended }()

	dial := func(address string, unit byte) goburrow.Client {
		h := goburrow.NewTCPClientHandler(address)
		h.SlaveId, h.Timeout = unit, 30*time.Second
		if err := h.Connect(); err != nil {
			b.Fatal(err)
		}
		b.Cleanup(func() { h.Close() })
		return goburrow.NewClient(h)
	}
	f := bench.File()
	clock := dial(f.Clock.Address, f.Clock.Unit)
	var waitAt uint16
	for _, p := range f.Clock.Registers.Points {
		if p.Signal == "wait_ms" {
			waitAt = p.Address
		}
	}
	var south goburrow.Client
	for _, d := range f.Devices {
		if d.Name == "south" {
			south = dial(d.Address, d.Unit)
		}
	}
	wait := binary.BigEndian.AppendUint32(nil, 10_000)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := south.ReadInputRegisters(0x0100, 10); err != nil {
			b.Fatal(err)
		}
		if _, err := clock.WriteMultipleRegisters(waitAt, 2, wait); err != nil {
			b.Fatal(err)
		}
	}
}

package suites_test

import (
	"context"
	"encoding/binary"
	"testing"
	"time"

	goburrow "github.com/goburrow/modbus"

	"kilter/emulator"
	"kilter/scenarios"
	"kilter/suites"
)

// The day is 24 hours at the bakery in stepped pace, judged and traced, with one poll each 10 s over Modbus TCP by an
// independent client: 8640 polls.

// BenchmarkDaySingly reads ten registers a poll, each by a request of its own.
func BenchmarkDaySingly(b *testing.B) { day(b, 10, 1) }

// BenchmarkDayInBlocks reads the same in one block.
func BenchmarkDayInBlocks(b *testing.B) { day(b, 1, 10) }

func day(b *testing.B, requests int, registers uint16) {
	sc, err := scenarios.Builtin("calm-start")
	if err != nil {
		b.Fatal(err)
	}
	sc.Lasts = 24 * time.Hour
	poll := func(ctx context.Context, bench emulator.File) error {
		south, clock := dialled(b, bench, "south"), dialled(b, bench, "")
		wait := binary.BigEndian.AppendUint32(nil, 10_000)
		for {
			for i := range requests {
				if _, err := south.ReadInputRegisters(uint16(0x0100+i), registers); err != nil {
					return err
				}
			}
			if _, err := clock.WriteMultipleRegisters(0, 2, wait); err != nil {
				return nil // the day is over
			}
		}
	}
	for b.Loop() {
		out, err := suites.Play(b.Context(), sc, suites.Options{
			Pace: emulator.Stepped, Controller: suites.Controller{Name: "poller", Serve: poll},
		})
		if err != nil {
			b.Fatal(err)
		}
		if n := out.Run.Wire.Reads; out.Run.Error != nil || n != 8640*requests {
			b.Fatalf("%d reads, %v", n, out.Run.Error)
		}
	}
	b.ReportMetric(b.Elapsed().Seconds()/float64(b.N)/8640*1e6, "us/poll")
}

// dialled connects to a device, or to the clock where none is named.
func dialled(b *testing.B, bench emulator.File, name string) goburrow.Client {
	address, unit := bench.Clock.Address, bench.Clock.Unit
	for _, d := range bench.Devices {
		if d.Name == name {
			address, unit = d.Address, d.Unit
		}
	}
	h := goburrow.NewTCPClientHandler(address)
	h.SlaveId, h.Timeout = unit, 30*time.Second
	if err := h.Connect(); err != nil {
		b.Error(err)
	}
	b.Cleanup(func() { h.Close() })
	return goburrow.NewClient(h)
}

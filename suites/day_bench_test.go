package suites_test

import (
	"context"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	goburrow "github.com/goburrow/modbus"

	"kilter/emulator"
	"kilter/scenarios"
	"kilter/suites"
	"kilter/suites/onecore"
)

// The day is 24 hours at the bakery in stepped pace, judged and traced, with one poll each 10 s over Modbus TCP by an
// independent client: 8640 polls.

// BenchmarkDaySingly reads ten registers a poll, each by a request of its own.
func BenchmarkDaySingly(b *testing.B) { day(b, 10, 1) }

// BenchmarkDayInBlocks reads the same in one block.
func BenchmarkDayInBlocks(b *testing.B) { day(b, 1, 10) }

// day plays the day with the client in this process, and in one of its own, on one core with the bench.
func day(b *testing.B, requests int, registers uint16) {
	self, err := os.Executable()
	if err != nil {
		b.Fatal(err)
	}
	b.Run("inside", func(b *testing.B) {
		playDay(b, requests, suites.Controller{Name: "poller", Serve: func(_ context.Context, bench emulator.File) error {
			return pollFor(bench, requests, registers)
		}})
	})
	b.Run("process", func(b *testing.B) {
		defer onecore.Keep(onecore.Here())()
		defer onecore.Hush(100 * time.Millisecond)()
		playDay(b, requests, suites.Controller{Name: "poller", Command: []string{self, "poller", fmt.Sprint(requests), fmt.Sprint(registers)}})
	})
}

// poller is this test binary as a controller that polls.
func poller(words []string) error {
	var requests int
	var registers uint16
	if _, err := fmt.Sscan(strings.Join(words, " "), &requests, &registers); err != nil {
		return err
	}
	text, err := os.ReadFile(os.Getenv(emulator.BenchVariable))
	if err != nil {
		return err
	}
	var bench emulator.File
	if err := json.Unmarshal(text, &bench); err != nil {
		return err
	}
	return pollFor(bench, requests, registers)
}

// pollFor polls until the day is over.
func pollFor(bench emulator.File, requests int, registers uint16) error {
	south, hangUp, err := dialled(bench, "south")
	if err != nil {
		return err
	}
	defer hangUp()
	clock, hangUp, err := dialled(bench, "")
	if err != nil {
		return err
	}
	defer hangUp()
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

func playDay(b *testing.B, requests int, c suites.Controller) {
	sc, err := scenarios.Builtin("calm-start")
	if err != nil {
		b.Fatal(err)
	}
	sc.Lasts = 24 * time.Hour
	for b.Loop() {
		out, err := suites.Play(b.Context(), sc, suites.Options{Pace: emulator.Stepped, Controller: c})
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
func dialled(bench emulator.File, name string) (client goburrow.Client, hangUp func() error, err error) {
	address, unit := bench.Clock.Address, bench.Clock.Unit
	for _, d := range bench.Devices {
		if d.Name == name {
			address, unit = d.Address, d.Unit
		}
	}
	h := goburrow.NewTCPClientHandler(address)
	h.SlaveId, h.Timeout = unit, 30*time.Second
	return goburrow.NewClient(h), h.Close, h.Connect()
}

package main

import (
	"encoding/binary"
	"encoding/json"
	"fmt"
	"os"
	"time"

	goburrow "github.com/goburrow/modbus"

	"kilter/emulator"
)

// clumsy is a controller that does wrong on purpose what its arguments say, one after the other, on an
// independent Modbus client. It waits for the bench file to appear, so that it can follow kilter serve.
func clumsy() {
	if os.Args[1] == "says" {
		says(os.Args[2])
		return
	}
	var bench emulator.File
	for range 500 {
		if text, err := os.ReadFile(os.Getenv(emulator.BenchVariable)); err == nil && json.Unmarshal(text, &bench) == nil {
			break
		}
		time.Sleep(20 * time.Millisecond)
	}
	link := func(address string, unit byte) goburrow.Client {
		h := goburrow.NewTCPClientHandler(address)
		h.SlaveId = unit
		if err := h.Connect(); err != nil {
			fmt.Println(err)
			os.Exit(1)
		}
		return goburrow.NewClient(h)
	}
	clock := link(bench.Clock.Address, bench.Clock.Unit)
	wait := func(ms uint32) error {
		_, err := clock.WriteMultipleRegisters(0, 2, binary.BigEndian.AppendUint32(nil, ms))
		return err
	}
	write := func(register, value uint16) {
		for _, d := range bench.Devices {
			if d.Name == "south" {
				_, err := link(d.Address, d.Unit).WriteSingleRegister(register, value)
				fmt.Println("wrote", value, "to", register, err)
			}
		}
	}
	for _, deed := range os.Args[1:] {
		switch deed {
		case "waits":
			for wait(10_000) == nil {
			}
			fmt.Println("the clock has closed")
		case "waits-once":
			wait(10_000)
		case "waits-long":
			fmt.Println("waited", wait(3_600_000))
		case "waits-a-tick":
			wait(100)
		case "swaps-words":
			fmt.Println("waited", wait(10_000<<16))
		case "writes":
			write(515, 1234)
		case "writes-too-much":
			write(515, 60_000)
		case "writes-nowhere":
			write(9, 1)
		case "crashes":
			fmt.Println("in line 7:\n  out of luck")
			os.Exit(3)
		}
	}
}

package emulator

import (
	"encoding/json"
	"fmt"
	"os"
	"time"

	"kilter/emulator/registers"
	"kilter/scenarios"
)

// File is what a controller is told about the bench: the content of the file that KILTER_BENCH names.
type File struct {
	Format   int          `json:"format"`
	Scenario string       `json:"scenario"`
	Site     string       `json:"site"`
	Pace     string       `json:"pace"`
	PollMS   int64        `json:"poll_ms,omitempty"` // in pace follow: the time that passes from one poll to the next
	Zone     string       `json:"zone"`
	Starts   string       `json:"starts"` // RFC 3339
	Supply   FileSupply   `json:"supply"`
	Clock    FileClock    `json:"clock"`
	Devices  []FileDevice `json:"devices"`
}

// FileSupply is what an installer knows of the grid connection.
type FileSupply struct {
	Phases       int     `json:"phases"`
	VoltageV     float64 `json:"voltage_v"`
	FuseA        float64 `json:"fuse_a,omitempty"`
	ImportLimitW float64 `json:"import_limit_w,omitempty"`
	ExportLimitW float64 `json:"export_limit_w,omitempty"`
}

// FileClock says where the bench clock answers.
type FileClock struct {
	Address   string                `json:"address"`
	Unit      byte                  `json:"unit"`
	Registers registers.Description `json:"registers"`
}

// FileDevice says where one device answers, and how to read it.
type FileDevice struct {
	Name       string  `json:"name"`
	Kind       string  `json:"kind"`
	Role       string  `json:"role"`
	Feeder     string  `json:"feeder"`
	Address    string  `json:"address"`
	Unit       byte    `json:"unit"`
	Link       string  `json:"link,omitempty"` // gateway, rtu_line (the address is a serial port's path) or rtu_over_tcp; empty is Modbus TCP
	TLS        bool    `json:"tls,omitempty"`  // Modbus/TCP Security
	Map        string  `json:"map"`
	Base       int     `json:"base,omitempty"` // first register of a SunSpec chain
	Sign       int     `json:"sign"`           // of a SunSpec chain's power: 1 into the device or import, -1 the other way; 0 where each register says so
	Command    bool    `json:"command"`        // the controller may command it
	RatingW    float64 `json:"rating_w,omitempty"`
	CapacityWh float64 `json:"capacity_wh,omitempty"`
	Meter      string  `json:"meter,omitempty"` // the meter that its native loop follows
	ReplyMS    int64   `json:"reply_timeout_ms"`
	// Registers are missing for a SunSpec chain, which describes itself.
	Registers *registers.Description `json:"registers,omitempty"`
}

// File describes the bench for its controller, the first where there are several.
func (b *Bench) File() File { return b.FileOf(0) }

// FileOf describes the bench for the controller of that number, from 0.
func (b *Bench) FileOf(controller int) File {
	sc, site := b.scenario, b.plant.Site()
	f := File{
		Format: 1, Scenario: sc.Name, Site: sc.Site.Name, Pace: b.options.Pace.String(),
		Zone: sc.Zone.String(), Starts: sc.Starts.Format(time.RFC3339),
		Supply: FileSupply{
			Phases: site.Phases, VoltageV: site.Supply.VoltageV, FuseA: site.Supply.FuseA,
			ImportLimitW: site.Supply.ImportLimitW, ExportLimitW: site.Supply.ExportLimitW,
		},
		Clock: FileClock{Address: b.clock.addresses[controller], Unit: 1, Registers: b.clock.layout.Describe()},
	}
	if b.options.Pace == Follow {
		f.PollMS = b.options.Poll.Milliseconds()
	}
	for _, d := range b.devices {
		sd, _ := sc.Site.Find(d.name)
		fd := FileDevice{
			Name: d.name, Kind: d.kind.String(), Role: Role(sc.Site, sd), Feeder: sd.Feeder, Address: d.addresses[controller], Link: d.wire.Link.String(),
			Unit: d.wire.Unit, Map: d.wire.Map, ReplyMS: d.wire.ReplyTimeout.Milliseconds(),
		}
		fd.TLS = b.options.TLS != nil && (d.wire.Link == scenarios.OwnAddress || d.wire.Link == scenarios.Gateway)
		for _, name := range sc.Commands {
			fd.Command = fd.Command || name == d.name
		}
		if d.kind == scenarios.Inverter {
			p := &site.Inverters[d.index]
			fd.RatingW, fd.CapacityWh = p.RatingW, p.Battery.CapacityWh
			if p.Loop.Meter >= 0 {
				fd.Meter = site.Meters[p.Loop.Meter].Name
			}
		}
		if isSunSpec(d.wire.Map) {
			fd.Base = d.wire.Base
			if fd.Base == 0 {
				fd.Base = registers.SunSpecBase
			}
			fd.Sign = d.sunspecSign()
		} else {
			desc := d.image.Describe()
			fd.Registers = &desc
		}
		f.Devices = append(f.Devices, fd)
	}
	return f
}

// GridRole is the role of the meter by which a controller steers.
const GridRole = "grid"

// Role says what a device is to a controller: the grid meter is the one at the inlet that no
// native loop follows.
func Role(site *scenarios.Site, d scenarios.Device) string {
	plant := &site.Plant
	switch d.Kind {
	case scenarios.Inverter:
		return "battery"
	case scenarios.Meter:
		if plant.Meters[d.Index].Feeder != 0 {
			return "meter"
		}
		for i := range plant.Inverters {
			if plant.Inverters[i].Loop.Meter == d.Index {
				return "meter"
			}
		}
		return GridRole
	case scenarios.Array:
		return "pv"
	}
	return d.Kind.String()
}

// sunspecSign is the sign of power in a device's SunSpec chain.
func (d *device) sunspecSign() int {
	switch signOf(d.wire.Sign) {
	case registers.SignInto:
		return 1
	case registers.SignOutOf:
		return -1
	}
	if d.kind == scenarios.Meter {
		return 1
	}
	return -1
}

// WriteFile writes the file for the controller, the first where there are several.
func (b *Bench) WriteFile(path string) error { return b.WriteFileOf(0, path) }

// WriteFileOf writes the file for the controller of that number, from 0.
func (b *Bench) WriteFileOf(controller int, path string) error {
	text, err := json.MarshalIndent(b.FileOf(controller), "", "  ")
	if err != nil {
		return err
	}
	if err := os.WriteFile(path, append(text, '\n'), 0o644); err != nil {
		return fmt.Errorf("bench file: %w", err)
	}
	return nil
}

package emulator_test

import (
	"encoding/binary"
	"time"

	goburrow "github.com/goburrow/modbus"
	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator"
	"kilter/emulator/registers"
)

// client is a controller of a few lines, built on an independent Modbus client.
type client struct {
	file  emulator.File
	links map[string]goburrow.Client
}

func connect(b *emulator.Bench) *client { return connectAs(b, 0) }

// connectAs is the controller of that number.
func connectAs(b *emulator.Bench, controller int) *client {
	return &client{file: b.FileOf(controller), links: map[string]goburrow.Client{}}
}

// link returns the link to an address, opened at its first use.
func (c *client) link(address string, unit byte) goburrow.Client {
	GinkgoHelper()
	if l := c.links[address]; l != nil {
		return l
	}
	h := goburrow.NewTCPClientHandler(address)
	h.SlaveId, h.Timeout = unit, 30*time.Second
	Expect(h.Connect()).To(Succeed())
	DeferCleanup(h.Close)
	c.links[address] = goburrow.NewClient(h)
	return c.links[address]
}

// point finds a signal among described registers.
func point(d registers.Description, signal string) registers.PointDescription {
	GinkgoHelper()
	for _, p := range d.Points {
		if p.Signal == signal {
			return p
		}
	}
	Fail("no signal " + signal)
	return registers.PointDescription{}
}

// wait lets simulated time pass; false at the end of the run.
func (c *client) wait(ms uint32) bool {
	GinkgoHelper()
	clock := c.file.Clock
	p := point(clock.Registers, "wait_ms")
	_, err := c.link(clock.Address, clock.Unit).WriteMultipleRegisters(p.Address, 2, binary.BigEndian.AppendUint32(nil, ms))
	return err == nil
}

// read returns one declared signal's raw registers, low word first as south's map has it.
func (c *client) read(device, signal string) float64 {
	GinkgoHelper()
	d := deviceOf(c.file, device)
	p := point(*d.Registers, signal)
	l := c.link(d.Address, d.Unit)
	get := l.ReadHoldingRegisters
	if p.Table == "input" {
		get = l.ReadInputRegisters
	}
	b, err := get(p.Address, p.Registers)
	Expect(err).NotTo(HaveOccurred())
	raw := int64(0)
	switch p.Type {
	case "int32":
		hi, lo := binary.BigEndian.Uint16(b[2:]), binary.BigEndian.Uint16(b)
		raw = int64(int32(uint32(hi)<<16 | uint32(lo)))
	case "int16":
		raw = int64(int16(binary.BigEndian.Uint16(b)))
	case "uint16":
		raw = int64(binary.BigEndian.Uint16(b))
	default:
		Fail("type " + p.Type)
	}
	return float64(p.Sign) * (float64(raw)*p.Scale + p.Offset)
}

// write sets one declared signal, low word first.
func (c *client) write(device, signal string, raw int32) error {
	GinkgoHelper()
	d := deviceOf(c.file, device)
	p := point(*d.Registers, signal)
	bytes := binary.BigEndian.AppendUint16(nil, uint16(raw))
	if p.Registers == 2 {
		bytes = binary.BigEndian.AppendUint16(bytes, uint16(raw>>16))
	}
	_, err := c.link(d.Address, d.Unit).WriteMultipleRegisters(p.Address, p.Registers, bytes)
	return err
}

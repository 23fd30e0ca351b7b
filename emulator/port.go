package emulator

import (
	"fmt"
	"time"

	"kilter/emulator/modbus"
	"kilter/scenarios"
)

// port is one address on the wire: a device's own, or one that several units share, behind a gateway or on a
// serial line.
type port struct {
	link   scenarios.Link
	shared string
	units  []*device
}

// ports groups the devices by the address that they share, in the site's order.
func (b *Bench) ports() []*port {
	var all []*port
	for _, d := range b.devices {
		if d.wire.Link != scenarios.OwnAddress {
			if p := shared(all, d.wire); p != nil {
				p.units = append(p.units, d)
				continue
			}
		}
		all = append(all, &port{link: d.wire.Link, shared: d.wire.Shared, units: []*device{d}})
	}
	return all
}

func shared(all []*port, w scenarios.Wire) *port {
	for _, p := range all {
		if p.link == w.Link && p.shared == w.Shared {
			return p
		}
	}
	return nil
}

// open serves the units at the port's address.
func (p *port) open(b *Bench) error {
	first := p.units[0]
	units := make(map[byte]modbus.Device, len(p.units))
	for _, d := range p.units {
		units[d.wire.Unit] = d
	}
	opt := b.serverOptions(p, func(x modbus.Exchange) {
		if d := p.unit(x.Unit); d != nil {
			b.record(d, x)
		}
	})
	var s *modbus.Server
	var err error
	switch p.link {
	case scenarios.RTULine:
		s, err = modbus.ListenRTU(units, modbus.RTUOptions{Options: opt})
	case scenarios.RTUOverTCP:
		s, err = modbus.ListenRTUOverTCP(b.address(1+first.order), units, modbus.RTUOptions{Options: opt})
	default:
		opt.Gateway = p.link == scenarios.Gateway
		s, err = modbus.Listen(b.address(1+first.order), units, opt)
	}
	if err != nil {
		return fmt.Errorf("%s: %w", first.name, err)
	}
	b.servers = append(b.servers, s)
	for _, d := range p.units {
		d.server, d.address = s, s.Addr().String()
	}
	return nil
}

// unit is the device with a unit id; nil where no device, or every device, is meant.
func (p *port) unit(id byte) *device {
	for _, d := range p.units {
		if d.wire.Unit == id || len(p.units) == 1 && p.link == scenarios.OwnAddress {
			return d
		}
	}
	return nil
}

// Enter lets a request through to the unit that it is for, or ends it, in the time that this takes.
func (p *port) Enter(x modbus.Exchange) error {
	if d := p.unit(x.Unit); d != nil {
		return d.Enter(x)
	}
	return nil
}

// Holds says whether a request may take long now.
func (p *port) Holds() bool {
	for _, d := range p.units {
		if d.Holds() {
			return true
		}
	}
	return false
}

// listenClock serves the bench clock at the first port.
func (b *Bench) listenClock() (string, error) {
	s, err := modbus.Listen(b.address(0), map[byte]modbus.Device{1: b.clock}, b.serverOptions(b.clock, b.clock.record))
	if err != nil {
		return "", err
	}
	b.servers = append(b.servers, s)
	return s.Addr().String(), nil
}

// address is where to listen; the offset counts from the clock's port, if the ports were chosen.
func (b *Bench) address(offset int) string {
	if b.options.Port == 0 {
		return "127.0.0.1:0"
	}
	return fmt.Sprintf("127.0.0.1:%d", b.options.Port+offset)
}

func (b *Bench) serverOptions(gate modbus.Gate, record func(modbus.Exchange)) modbus.Options {
	return modbus.Options{
		Gate:   gate,
		Record: record,
		Wait:   b.wait,
		Now:    func() time.Duration { return time.Duration(b.shownMS.Load()) * time.Millisecond },
	}
}

package emulator

import (
	"cmp"
	"fmt"
	"net"
	"slices"
	"strconv"
	"time"

	"kilter/emulator/modbus"
	"kilter/scenarios"
)

// port is one address on the wire, for one controller: a device's own, or one that several units share, behind a gateway or on a
// serial line.
type port struct {
	controller int
	link       scenarios.Link
	shared     string
	units      []*device
	strays     talk // requests for units that it does not have
}

// ports groups the devices by the address that they share, in the site's order.
func (b *Bench) ports(controller int) []*port {
	var all []*port
	for _, d := range b.devices {
		if d.wire.Link != scenarios.OwnAddress {
			if p := shared(all, d.wire); p != nil {
				p.units = append(p.units, d)
				continue
			}
		}
		p := &port{controller: controller, link: d.wire.Link, shared: d.wire.Shared, units: []*device{d}}
		p.strays.Device = fmt.Sprintf("%s %s", p.link, p.shared)
		all = append(all, p)
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
	opt := b.serverOptions(p.controller, p, func(x modbus.Exchange) {
		stray := true
		for _, d := range p.units {
			if p.means(d, x.Unit) {
				stray = false
				b.record(d, x)
			}
		}
		if stray {
			b.recordStray(p, x)
		}
	})
	var s *modbus.Server
	var err error
	opt.Gateway = p.link == scenarios.Gateway
	switch {
	case b.options.Inside:
		s, err = modbus.NewServer(units, opt)
	case p.link == scenarios.RTULine:
		s, err = modbus.ListenRTU(units, modbus.RTUOptions{Options: opt})
	case p.link == scenarios.RTUOverTCP:
		s, err = modbus.ListenRTUOverTCP(b.address(p.controller, 1+first.order), units, modbus.RTUOptions{Options: opt})
	default:
		opt.TLS = b.options.TLS
		s, err = modbus.Listen(b.address(p.controller, 1+first.order), units, opt)
	}
	if err != nil {
		return fmt.Errorf("%s: %w", first.name, err)
	}
	b.serve(p.controller, s)
	for _, d := range p.units {
		d.servers, d.addresses = append(d.servers, s), append(d.addresses, s.Addr().String())
	}
	return nil
}

// means says whether a request with a unit id is for a device: for its own id, for everybody's, and for any at an
// address of its own, since there no other can be meant.
func (p *port) means(d *device, unit byte) bool {
	return unit == d.wire.Unit || unit == 0 || p.link == scenarios.OwnAddress
}

// Enter lets a request through to the units that it is for, or ends it, in the time that this takes.
func (p *port) Enter(x modbus.Exchange) error {
	for _, d := range p.units {
		if p.means(d, x.Unit) {
			if err := d.Enter(x); err != nil {
				return err
			}
		}
	}
	return nil
}

// Holds says whether a request may take long now.
func (p *port) Holds() bool {
	return slices.ContainsFunc(p.units, (*device).Holds)
}

// listenClock serves the bench clock at the first port of each controller.
func (b *Bench) listenClock() error {
	for i := range b.controllers() {
		units, opt := map[byte]modbus.Device{1: b.clock}, b.serverOptions(i, b.clock, b.clock.record)
		var s *modbus.Server
		var err error
		if b.options.Inside {
			s, err = modbus.NewServer(units, opt)
		} else {
			s, err = modbus.Listen(b.address(i, 0), units, opt)
		}
		if err != nil {
			return err
		}
		b.serve(i, s)
		b.clock.servers, b.clock.addresses = append(b.clock.servers, s), append(b.clock.addresses, s.Addr().String())
	}
	return nil
}

// serve keeps a server that is for a controller.
func (b *Bench) serve(controller int, s *modbus.Server) {
	b.servers = append(b.servers, s)
	b.reached[controller] = append(b.reached[controller], s)
}

// address is where to listen to a controller; the offset counts from its clock's port, if the ports were chosen.
func (b *Bench) address(controller, offset int) string {
	host := cmp.Or(b.options.Host, "127.0.0.1")
	if b.options.Port == 0 {
		return net.JoinHostPort(host, "0")
	}
	onTheWire := 1 // the clock
	for _, d := range b.scenario.Site.Devices {
		if d.Wire != nil {
			onTheWire++
		}
	}
	return net.JoinHostPort(host, strconv.Itoa(b.options.Port+controller*onTheWire+offset))
}

func (b *Bench) serverOptions(controller int, gate modbus.Gate, record func(modbus.Exchange)) modbus.Options {
	return modbus.Options{
		Controller:  controller,
		AllowRemote: b.options.Host != "",
		Gate:        gate,
		Record:      record,
		Wait:        b.wait,
		Grain:       time.Duration(b.stepMS) * time.Millisecond,
		Now:         b.Now,
	}
}

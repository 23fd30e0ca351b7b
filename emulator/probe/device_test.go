package probe_test

import (
	"context"
	"errors"
	"io"
	"net"
	"sync"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"kilter/emulator/modbus"
	"kilter/emulator/probe"
	"kilter/emulator/registers"
)

// memory is a device of bare registers, by table and address. It fails the spec when it is written to.
type memory struct {
	cells map[modbus.Table]map[uint16]uint16
	// everywhere answers all other addresses, where it is set.
	everywhere func(address uint16) uint16
	texts      []string
}

func (m *memory) value(table modbus.Table, address uint16) (uint16, error) {
	if v, has := m.cells[table][address]; has {
		return v, nil
	}
	if m.everywhere != nil {
		return m.everywhere(address), nil
	}
	return 0, modbus.IllegalDataAddress
}

func (m *memory) ReadRegisters(_ modbus.Peer, table modbus.Table, address uint16, dst []uint16) error {
	for i := range dst {
		v, err := m.value(table, address+uint16(i))
		if err != nil {
			return err
		}
		dst[i] = v
	}
	return nil
}

func (m *memory) ReadBits(_ modbus.Peer, table modbus.Table, address uint16, dst []bool) error {
	for i := range dst {
		v, err := m.value(table, address+uint16(i))
		if err != nil {
			return err
		}
		dst[i] = v != 0
	}
	return nil
}

func (m *memory) WriteRegisters(modbus.Peer, uint16, []uint16) error {
	defer GinkgoRecover()
	Fail("probe wrote registers")
	return nil
}

func (m *memory) WriteBits(modbus.Peer, uint16, []bool) error {
	defer GinkgoRecover()
	Fail("probe wrote coils")
	return nil
}

func (m *memory) Identification() []string { return m.texts }

// holding is a device with holding registers from an address on.
func holding(from uint16, words ...uint16) *memory {
	m := &memory{cells: map[modbus.Table]map[uint16]uint16{modbus.HoldingRegisters: {}}}
	for i, w := range words {
		m.cells[modbus.HoldingRegisters][from+uint16(i)] = w
	}
	return m
}

// imaged is a device whose registers are an image's.
type imaged struct {
	*memory
	image *registers.Image
}

var imageTables = [...]registers.Table{
	modbus.Coils: registers.Coil, modbus.DiscreteInputs: registers.Discrete,
	modbus.HoldingRegisters: registers.Holding, modbus.InputRegisters: registers.Input,
}

func (d *imaged) ReadRegisters(_ modbus.Peer, table modbus.Table, address uint16, dst []uint16) error {
	if d.image.Read(imageTables[table], address, dst) != nil {
		return modbus.IllegalDataAddress
	}
	return nil
}

func (d *imaged) ReadBits(_ modbus.Peer, table modbus.Table, address uint16, dst []bool) error {
	words := make([]uint16, len(dst))
	if d.image.Read(imageTables[table], address, words) != nil {
		return modbus.IllegalDataAddress
	}
	for i, w := range words {
		dst[i] = w != 0
	}
	return nil
}

// asked is the record of what a server was asked.
type asked struct {
	sync.Mutex
	functions map[byte]int
	addresses []uint16
}

// serve puts a device on the wire as unit 1 and keeps the record of what it is asked.
func serve(d modbus.Device) (address string, seen *asked) {
	GinkgoHelper()
	seen = &asked{functions: map[byte]int{}}
	s, err := modbus.Listen("127.0.0.1:0", map[byte]modbus.Device{1: d}, modbus.Options{Record: func(x modbus.Exchange) {
		seen.Lock()
		defer seen.Unlock()
		seen.functions[x.Function]++
		if len(x.Request) >= 10 {
			seen.addresses = append(seen.addresses, uint16(x.Request[8])<<8|uint16(x.Request[9]))
		}
	}})
	Expect(err).NotTo(HaveOccurred())
	DeferCleanup(s.Close)
	return s.Addr().String(), seen
}

// dial connects to unit 1 with a patience that a loaded machine does not exhaust.
func dial(address string) *probe.Link {
	GinkgoHelper()
	l, err := probe.Dial(address, 1, 10*time.Second)
	Expect(err).NotTo(HaveOccurred())
	DeferCleanup(l.Close)
	return l
}

// look serves a device and looks at it.
func look(d modbus.Device, want probe.Request) (*probe.Report, error) {
	GinkgoHelper()
	address, _ := serve(d)
	return probe.Look(context.Background(), dial(address), want)
}

// peer listens and treats each connection in its own way.
func peer(treat func(net.Conn)) string {
	GinkgoHelper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	Expect(err).NotTo(HaveOccurred())
	var all sync.WaitGroup
	DeferCleanup(func() { listener.Close(); all.Wait() })
	all.Go(func() {
		for {
			c, err := listener.Accept()
			if errors.Is(err, net.ErrClosed) {
				return
			}
			all.Go(func() { defer c.Close(); treat(c) })
		}
	})
	return listener.Addr().String()
}

// request reads one whole request.
func request(c net.Conn) (header []byte, pdu []byte, err error) {
	header = make([]byte, 7)
	if _, err = io.ReadFull(c, header); err != nil {
		return nil, nil, err
	}
	pdu = make([]byte, int(header[4])<<8|int(header[5])-1)
	_, err = io.ReadFull(c, pdu)
	return header, pdu, err
}

// named finds a point of a list.
func named(points []probe.Point, name string) probe.Point {
	GinkgoHelper()
	for _, p := range points {
		if p.Name == name {
			return p
		}
	}
	Fail("no point " + name)
	return probe.Point{}
}

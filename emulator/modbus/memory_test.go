package modbus_test

import (
	"sync"

	"kilter/emulator/modbus"
)

// memory is a device that keeps what is written to it, and counts its calls.
type memory struct {
	mutex    sync.Mutex
	coils    []bool
	inputs   []bool
	holding  []uint16
	input    []uint16
	queue    []uint16
	objects  []string
	failure  error // what every access answers, if set
	accesses int
}

func newMemory(size int) *memory {
	return &memory{
		coils:   make([]bool, size),
		inputs:  make([]bool, size),
		holding: make([]uint16, size),
		input:   make([]uint16, size),
		objects: []string{"Company identification", "Product code XX", "V2.11"},
	}
}

func access[T any](m *memory, table []T, address uint16, count int, act func(cells []T)) error {
	m.mutex.Lock()
	defer m.mutex.Unlock()
	m.accesses++
	if m.failure != nil {
		return m.failure
	}
	if int(address)+count > len(table) {
		return modbus.IllegalDataAddress
	}
	act(table[address : int(address)+count])
	return nil
}

func (m *memory) ReadRegisters(_ modbus.Peer, table modbus.Table, address uint16, dst []uint16) error {
	source := m.holding
	if table == modbus.InputRegisters {
		source = m.input
	}
	return access(m, source, address, len(dst), func(cells []uint16) { copy(dst, cells) })
}

func (m *memory) WriteRegisters(_ modbus.Peer, address uint16, values []uint16) error {
	return access(m, m.holding, address, len(values), func(cells []uint16) { copy(cells, values) })
}

func (m *memory) ReadBits(_ modbus.Peer, table modbus.Table, address uint16, dst []bool) error {
	source := m.coils
	if table == modbus.DiscreteInputs {
		source = m.inputs
	}
	return access(m, source, address, len(dst), func(cells []bool) { copy(dst, cells) })
}

func (m *memory) WriteBits(_ modbus.Peer, address uint16, values []bool) error {
	return access(m, m.coils, address, len(values), func(cells []bool) { copy(cells, values) })
}

func (m *memory) Identification() []string { return m.objects }

func (m *memory) ReadQueue(modbus.Peer, uint16) ([]uint16, error) {
	m.mutex.Lock()
	defer m.mutex.Unlock()
	if m.failure != nil {
		return nil, m.failure
	}
	return m.queue, nil
}

func (m *memory) accessCount() int {
	m.mutex.Lock()
	defer m.mutex.Unlock()
	return m.accesses
}

func (m *memory) fail(with error) {
	m.mutex.Lock()
	defer m.mutex.Unlock()
	m.failure = with
}

func (m *memory) register(address int) uint16 {
	m.mutex.Lock()
	defer m.mutex.Unlock()
	return m.holding[address]
}

// plain hides a memory's optional interfaces and identification.
type plain struct{ inner modbus.Device }

func (p plain) ReadRegisters(from modbus.Peer, table modbus.Table, address uint16, dst []uint16) error {
	return p.inner.ReadRegisters(from, table, address, dst)
}

func (p plain) WriteRegisters(from modbus.Peer, address uint16, values []uint16) error {
	return p.inner.WriteRegisters(from, address, values)
}

func (p plain) ReadBits(from modbus.Peer, table modbus.Table, address uint16, dst []bool) error {
	return p.inner.ReadBits(from, table, address, dst)
}

func (p plain) WriteBits(from modbus.Peer, address uint16, values []bool) error {
	return p.inner.WriteBits(from, address, values)
}

func (p plain) Identification() []string { return nil }

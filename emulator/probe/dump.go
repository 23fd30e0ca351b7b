package probe

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"kilter/emulator/modbus"
	"kilter/emulator/registers"
)

// Range is a run of addresses in a table.
type Range struct {
	Table    registers.Table
	From, To uint16
}

// ParseRange reads TABLE:FROM-TO, with addresses from 0 as on the wire, in decimal or in hex after 0x.
func ParseRange(text string) (Range, error) {
	name, span, ok := strings.Cut(text, ":")
	first, last, ranged := strings.Cut(span, "-")
	if !ranged {
		last = first
	}
	table, err := registers.ParseTable(name)
	if err != nil {
		return Range{}, fmt.Errorf("%q: %w", text, err)
	}
	from, err1 := strconv.ParseUint(first, 0, 16)
	to, err2 := strconv.ParseUint(last, 0, 16)
	if !ok || err1 != nil || err2 != nil {
		return Range{}, fmt.Errorf("%q: must be TABLE:FROM-TO with addresses from 0 to 65535, such as holding:0-99 or input:0x100-0x10F", text)
	}
	if from > to {
		return Range{}, fmt.Errorf("%q: the range ends before it begins", text)
	}
	return Range{table, uint16(from), uint16(to)}, nil
}

// Memory is a run of bare registers, or of bits as 0 and 1.
type Memory struct {
	Table  string   `json:"table"`
	From   uint16   `json:"from"`
	Values []uint16 `json:"values"`
	// Refused are the addresses that the device does not have; a value there is 0.
	Refused []Refusal `json:"refused,omitempty"`
	// read counts the values that came.
	read int
}

// Refusal is a run of addresses that the device answers with an exception.
type Refusal struct {
	From uint16 `json:"from"`
	To   uint16 `json:"to"`
	Why  string `json:"why"`
}

// Dump reads a range. Where the device refuses a request it is asked for the halves, down to single addresses, so
// that a gap does not hide what stands around it. It is an error where the device has none of the addresses.
func Dump(ctx context.Context, l *Link, r Range) (*Memory, error) {
	m := &Memory{Table: r.Table.String(), From: r.From, Values: make([]uint16, int(r.To)-int(r.From)+1)}
	step := maxRegisters
	if r.Table == registers.Coil || r.Table == registers.Discrete {
		step = maxBits
	}
	for at := 0; at < len(m.Values); at += step {
		if err := m.fetch(ctx, l, r.Table, at, min(step, len(m.Values)-at)); err != nil {
			return m, l.explain(fmt.Sprintf("%s %d", r.Table, int(r.From)+at), err)
		}
	}
	if m.read == 0 {
		return m, fmt.Errorf("%s: the device has no %s registers from %d to %d: %s; try another table (holding, input, coil, discrete) or range",
			l.handler.Address, r.Table, r.From, r.To, m.Refused[0].Why)
	}
	return m, nil
}

func (m *Memory) fetch(ctx context.Context, l Reader, table registers.Table, at, count int) error {
	address := m.From + uint16(at)
	values, err := l.Read(ctx, table, address, count)
	var code modbus.Exception
	switch {
	case err == nil:
		m.read += copy(m.Values[at:], values)
		return nil
	case !errors.As(err, &code) || absent(code):
		return err
	case count == 1 || code == modbus.IllegalFunction:
		m.refuse(address, address+uint16(count-1), inWords(err))
		return nil
	}
	half := count / 2
	if err := m.fetch(ctx, l, table, at, half); err != nil {
		return err
	}
	return m.fetch(ctx, l, table, at+half, count-half)
}

// refuse notes refused addresses; they come in ascending order, and neighbours of one kind are one run.
func (m *Memory) refuse(from, to uint16, why string) {
	if n := len(m.Refused); n > 0 && m.Refused[n-1].Why == why && int(m.Refused[n-1].To)+1 == int(from) {
		m.Refused[n-1].To = to
		return
	}
	m.Refused = append(m.Refused, Refusal{from, to, why})
}

// isRefused tells whether all of some addresses were refused.
func (m *Memory) isRefused(from uint16, count int) bool {
	for _, r := range m.Refused {
		if from >= r.From && int(from)+count-1 <= int(r.To) {
			return true
		}
	}
	return false
}

package probe

import (
	"context"
	"errors"
	"fmt"

	"kilter/emulator/modbus"
	"kilter/emulator/registers"
	"kilter/emulator/registers/sunspec"
)

// bases are where a chain may start, in the order of trying.
var bases = [...]uint16{40000, 0, 50000}

// maxModels caps a chain: a device that answers the same everywhere would never end it.
const maxModels = 100

// Chain is a device's SunSpec models.
type Chain struct {
	Base   uint16  `json:"base"`
	Models []Model `json:"models"`
	// Remarks say what is odd about the chain as a whole.
	Remarks []string `json:"remarks,omitempty"`
}

// Model is one model of a chain.
type Model struct {
	ID uint16 `json:"id"`
	// Name is the standard's; empty for a model that the tables do not have.
	Name    string `json:"name,omitempty"`
	Address uint16 `json:"address"`
	// Length counts the registers after the length register, as the device says.
	Length  uint16   `json:"length"`
	Points  []Point  `json:"points,omitempty"`
	Remarks []string `json:"remarks,omitempty"`
	// Registers are the bare content of a model that the tables do not have.
	Registers *Memory `json:"registers,omitempty"`
}

// SunSpec finds a device's chain and reads all of it. An error means that nothing was found or that the device fell
// silent; what is merely odd is remarked.
func SunSpec(ctx context.Context, l *Link) (*Chain, error) {
	base, err := find(ctx, l)
	if err != nil {
		return nil, err
	}
	c := &Chain{Base: base}
	if err := c.walk(ctx, l); err != nil {
		return c, l.explain("walking the SunSpec chain", err)
	}
	return c, nil
}

// find looks for the marker.
func find(ctx context.Context, l *Link) (uint16, error) {
	var tried []attempt
	var last error
	for _, base := range bases {
		words, err := l.Read(ctx, registers.Holding, base, 2)
		switch {
		case err == nil && words[0] == sunspec.Marker[0] && words[1] == sunspec.Marker[1]:
			return base, nil
		case err == nil:
			tried = append(tried, attempt{base, fmt.Sprintf("stands %04X %04X", words[0], words[1])})
		case isAbsent(err), ctx.Err() != nil:
			return 0, l.explain("looking for a SunSpec chain", err)
		default:
			tried, last = append(tried, attempt{base, inWords(err)}), err
		}
	}
	if !l.heard {
		return 0, l.explain("looking for a SunSpec chain", last)
	}
	return 0, notSunSpec(l.handler.Address, tried)
}

func isAbsent(err error) bool {
	var code modbus.Exception
	return errors.As(err, &code) && absent(code)
}

// walk reads model after model, by the lengths that the device states and not by those that the tables have.
func (c *Chain) walk(ctx context.Context, l Reader) error {
	for at := int(c.Base) + 2; ; {
		if at+sunspec.HeaderRegisters > 1<<16 {
			c.remark("the chain runs out of addresses at %d without an end model", at)
			return nil
		}
		head, err := l.Read(ctx, registers.Holding, uint16(at), sunspec.HeaderRegisters)
		if err != nil {
			return c.broken(ctx, fmt.Sprintf("the next model's header at %d", at), err)
		}
		m := Model{ID: head[0], Address: uint16(at), Length: head[1]}
		size := sunspec.HeaderRegisters + int(m.Length)
		switch {
		case m.ID == sunspec.EndModel:
			if m.Length != 0 {
				c.remark("the end model at %d has length %d in place of 0", at, m.Length)
			}
			return nil
		case m.ID == 0:
			c.remark("at %d stands model id 0, which is none: the chain is broken there, without an end model", at)
			return nil
		case len(c.Models) == maxModels:
			c.remark("%d models and no end model: the rest is not read", maxModels)
			return nil
		case at+size > 1<<16:
			c.remark("model %d at %d has length %d, which runs past register 65535: the chain is broken there", m.ID, at, m.Length)
			return nil
		}
		words, err := readAll(ctx, l, registers.Holding, uint16(at), size)
		if err != nil {
			return c.broken(ctx, fmt.Sprintf("model %d at %d, %d registers", m.ID, at, size), err)
		}
		m.decode(words)
		c.Models = append(c.Models, m)
		at += size
	}
}

// broken remarks that the chain cannot be read further; it is an error where time is up or nothing was read at all.
func (c *Chain) broken(ctx context.Context, where string, err error) error {
	if ctx.Err() != nil || len(c.Models) == 0 {
		return fmt.Errorf("%s: %w", where, err)
	}
	c.remark("the chain breaks off without an end model: %s: %s", where, inWords(err))
	return nil
}

func (c *Chain) remark(format string, args ...any) {
	c.Remarks = append(c.Remarks, fmt.Sprintf(format, args...))
}

// readAll reads more than one request may ask for.
func readAll(ctx context.Context, l Reader, table registers.Table, address uint16, count int) ([]uint16, error) {
	all := make([]uint16, 0, count)
	for len(all) < count {
		part, err := l.Read(ctx, table, address+uint16(len(all)), min(count-len(all), maxRegisters))
		if err != nil {
			return nil, err
		}
		all = append(all, part...)
	}
	return all, nil
}

package wrong

import (
	"kilter/cmd/steady/control"
)

// Offsets in model 124 as the reference controller reads it, from its third register on (check-values SS-36, from
// the public SunSpec definition model_124.json).
const (
	storageSOC       = 8 - 2
	storageStored    = 9 - 2
	storageRateScale = 25 - 2
	storageWords     = 26 - 2
)

// isStorage tells whether a reply is the body of model 124.
func isStorage(words []uint16) bool { return len(words) == storageWords }

// tap is a device's bus with something in between.
type tap struct {
	control.Bus
	read  func(b control.Bus, table string, address, count uint16) ([]uint16, error)
	write func(b control.Bus, table string, address uint16, values []uint16) error
}

// Read reads through the tap.
func (t tap) Read(table string, address, count uint16) ([]uint16, error) {
	if t.read == nil {
		return t.Bus.Read(table, address, count)
	}
	return t.read(t.Bus, table, address, count)
}

// Write writes through the tap.
func (t tap) Write(table string, address uint16, values []uint16) error {
	if t.write == nil {
		return t.Bus.Write(table, address, values)
	}
	return t.write(t.Bus, table, address, values)
}

// speaks is the reference controller with a tap at each device, or at one, which may be the clock.
func speaks(device string, make func() tap, args ...string) func() parts {
	return func() parts {
		return parts{args: args, Program: control.Program{Bus: func(name string, b control.Bus) control.Bus {
			if device == "" && name == control.Clock || device != "" && name != device {
				return b
			}
			t := make()
			t.Bus = b
			return t
		}}}
	}
}

// reads is the reference controller that takes what a device answers for something else.
func reads(device string, change func(words []uint16)) func() parts {
	return speaks(device, func() tap {
		return tap{read: func(b control.Bus, table string, address, count uint16) ([]uint16, error) {
			words, err := b.Read(table, address, count)
			if err == nil {
				change(words)
			}
			return words, err
		}}
	})
}

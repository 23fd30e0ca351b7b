package registers

import "math"

// Type is how a number stands in registers.
type Type uint8

// The types. Bit is the only type of coils and discrete inputs.
const (
	Uint16 Type = iota
	Int16
	Uint32
	Int32
	Uint64
	Int64
	Float32
	Float64
	Bit
	Text
)

var typeNames = [...]string{
	"uint16", "int16", "uint32", "int32", "uint64", "int64", "float32", "float64", "bit", "string",
}

func (t Type) String() string { return typeNames[t] }

// Registers is the size of the type; a Text has the size that its map gives it, and counts as 0 here.
func (t Type) Registers() uint16 {
	switch t {
	case Text:
		return 0
	case Uint32, Int32, Float32:
		return 2
	case Uint64, Int64, Float64:
		return 4
	}
	return 1
}

func (t Type) bits() uint { return 16 * uint(t.Registers()) }

func (t Type) isFloat() bool { return t == Float32 || t == Float64 }

func (t Type) isSigned() bool { return t == Int16 || t == Int32 || t == Int64 }

// absent is the raw value that says "not known".
func (t Type) absent() uint64 {
	switch t {
	case Int16, Int32, Int64:
		return 1 << (t.bits() - 1)
	case Uint16, Uint32, Uint64:
		return math.MaxUint64 >> (64 - t.bits())
	case Float32:
		return 0x7FC00000
	case Float64:
		return 0x7FF8000000000000
	}
	return 0
}

// encode turns a number that is already in the register's own unit into its raw form. Integers are rounded half
// away from zero and clipped, so that they never take the value that means "not known".
func (t Type) encode(x float64) uint64 {
	switch t {
	case Float32:
		return uint64(math.Float32bits(float32(x)))
	case Float64:
		return math.Float64bits(x)
	case Bit:
		if x != 0 {
			return 1
		}
		return 0
	case Int16, Int32, Int64:
		// The largest float64 below 2^63 stands in for the limit that float64 cannot hold.
		limit := min(float64(uint64(1)<<(t.bits()-1)-1), 0x7FFFFFFFFFFFFC00)
		x = max(-limit, min(limit, math.Round(x)))
		return uint64(int64(x)) & (math.MaxUint64 >> (64 - t.bits()))
	}
	limit := min(float64(t.absent()-1), 0xFFFFFFFFFFFFF800)
	return uint64(max(0, min(limit, math.Round(x))))
}

// encodeCounter turns a count into its raw form: whole units, modulo the size of an unsigned register.
func (t Type) encodeCounter(x float64) uint64 {
	if t.isFloat() {
		return t.encode(x)
	}
	x = max(0, math.Floor(x))
	if t.isSigned() || t == Uint64 {
		return t.encode(x)
	}
	return uint64(math.Mod(x, float64(uint64(1)<<t.bits())))
}

// decode is the number that a raw value stands for, in the register's own unit.
func (t Type) decode(raw uint64) float64 {
	switch t {
	case Int16:
		return float64(int16(raw))
	case Int32:
		return float64(int32(raw))
	case Int64:
		return float64(int64(raw))
	case Float32:
		return float64(math.Float32frombits(uint32(raw)))
	case Float64:
		return math.Float64frombits(raw)
	}
	return float64(raw)
}

// Order is how a value's bytes are laid over registers. The zero value is the usual order: high word first, and
// in each word the high byte first.
type Order struct {
	LowWordFirst, LowByteFirst bool
}

// put spreads a raw value over dst, whose length is the value's size.
func (o Order) put(dst []uint16, raw uint64) {
	last := len(dst) - 1
	for i := range dst {
		word := uint16(raw >> (16 * uint(last-i)))
		if o.LowByteFirst {
			word = word<<8 | word>>8
		}
		if o.LowWordFirst {
			dst[last-i] = word
		} else {
			dst[i] = word
		}
	}
}

// get is the inverse of put.
func (o Order) get(src []uint16) uint64 {
	var raw uint64
	last := len(src) - 1
	for i := range src {
		word := src[i]
		if o.LowWordFirst {
			word = src[last-i]
		}
		if o.LowByteFirst {
			word = word<<8 | word>>8
		}
		raw = raw<<16 | uint64(word)
	}
	return raw
}

// putText writes two characters a register, the first in the high byte, and fills up with NUL.
func (o Order) putText(dst []uint16, text string) {
	at := func(i int) uint16 {
		if i < len(text) {
			return uint16(text[i])
		}
		return 0
	}
	for i := range dst {
		high, low := at(2*i), at(2*i+1)
		if o.LowByteFirst {
			high, low = low, high
		}
		dst[i] = high<<8 | low
	}
}

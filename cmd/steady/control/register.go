package control

import (
	"fmt"
	"math"
)

// register is one value of a device as the bench file describes it. A value
// inside is sign x (raw x scale + offset).
type register struct {
	signal   string
	table    string
	address  uint16
	kind     string // uint16, int32, float64, bit ...
	lowWord  bool   // the low word comes first
	lowByte  bool   // in each word, the low byte comes first
	scale    float64
	offset   float64
	sign     float64
	oneWay   bool // it shows one direction only; the value is the sum over such registers
	unknown  *uint64
	words    []word
	writable bool
	lo, hi   *float64 // the range that may be written, inside
	lastsS   float64  // how long a written value is obeyed [s]; 0 means without end
	timer    *uint16  // the holding register that says how long
	needs    *need    // what must hold for a written value to be obeyed
}

// word is one value of an enumeration.
type word struct {
	Raw   uint64  `json:"raw"`
	Word  string  `json:"word"`
	Value float64 `json:"value"`
}

// need is a condition on another register: its bits under Mask equal Raw.
type need struct {
	Table   string `json:"table"`
	Address uint16 `json:"address"`
	Mask    uint64 `json:"mask"`
	Raw     uint64 `json:"raw"`
}

// size is how many registers the value takes.
func (r *register) size() uint16 {
	switch r.kind {
	case "uint32", "int32", "float32":
		return 2
	case "uint64", "int64", "float64":
		return 4
	}
	return 1
}

// check refuses a description that cannot be read.
func (r *register) check() error {
	switch r.table {
	case "holding", "input", "coil", "discrete":
	default:
		return fmt.Errorf("table %q: must be holding, input, coil or discrete", r.table)
	}
	switch r.kind {
	case "uint16", "int16", "uint32", "int32", "uint64", "int64", "float32", "float64", "bit", "bool", "":
	default:
		return fmt.Errorf("type %q: must be an integer of 16, 32 or 64 bits, a float or a bit", r.kind)
	}
	if r.scale == 0 {
		return fmt.Errorf("scale 0: every value would read as 0")
	}
	return nil
}

// assemble puts the words together into the raw value.
func (r *register) assemble(words []uint16) uint64 {
	var raw uint64
	for i := range words {
		w := words[i]
		if r.lowWord {
			w = words[len(words)-1-i]
		}
		if r.lowByte {
			w = w<<8 | w>>8
		}
		raw = raw<<16 | uint64(w)
	}
	return raw
}

// spread is the inverse of assemble.
func (r *register) spread(raw uint64) []uint16 {
	words := make([]uint16, r.size())
	for i := range words {
		w := uint16(raw >> (16 * (len(words) - 1 - i)))
		if r.lowByte {
			w = w<<8 | w>>8
		}
		if r.lowWord {
			words[len(words)-1-i] = w
		} else {
			words[i] = w
		}
	}
	return words
}

// decode reads the value out of its words. The raw value that a type reserves
// for "not known" is not a number.
func (r *register) decode(words []uint16) Reading {
	if len(words) != int(r.size()) {
		return Reading{}
	}
	raw := r.assemble(words)
	if r.unknown != nil && raw == *r.unknown && r.kind != "bit" {
		return Reading{}
	}
	if len(r.words) > 0 {
		for _, w := range r.words {
			if w.Raw == raw {
				return Known(w.Value)
			}
		}
		return Reading{}
	}
	var x float64
	absent := false
	switch r.kind {
	case "int16":
		x, absent = float64(int16(raw)), raw == 1<<15
	case "int32":
		x, absent = float64(int32(raw)), raw == 1<<31
	case "int64":
		x, absent = float64(int64(raw)), raw == 1<<63
	case "uint32":
		x, absent = float64(raw), raw == math.MaxUint32
	case "uint64":
		x, absent = float64(raw), raw == math.MaxUint64
	case "float32":
		x = float64(math.Float32frombits(uint32(raw)))
	case "float64":
		x = math.Float64frombits(raw)
	case "bit", "bool":
		x = float64(raw & 1)
	default:
		x, absent = float64(raw), raw == math.MaxUint16
		if r.table == "coil" || r.table == "discrete" {
			absent = false
		}
	}
	if absent {
		return Reading{}
	}
	return Known(r.sign * (x*r.scale + r.offset))
}

// encode makes the words of a value, rounded towards 0 and kept within the
// range that the device takes, so that a limit is never exceeded by rounding.
func (r *register) encode(value float64) []uint16 {
	if r.lo != nil {
		value = math.Max(value, *r.lo)
	}
	if r.hi != nil {
		value = math.Min(value, *r.hi)
	}
	x := (r.sign*value - r.offset) / r.scale
	// A quotient such as 0.3 / 0.1 falls just below the whole number.
	whole := math.Trunc(x + math.Copysign(1e-6, x))
	var raw uint64
	switch r.kind {
	case "float32":
		raw = uint64(math.Float32bits(float32(x)))
	case "float64":
		raw = math.Float64bits(x)
	case "int16":
		raw = uint64(uint16(int16(clamp(whole, -math.MaxInt16, math.MaxInt16))))
	case "int32":
		raw = uint64(uint32(int32(clamp(whole, -math.MaxInt32, math.MaxInt32))))
	case "int64":
		raw = uint64(int64(clamp(whole, -1<<62, 1<<62)))
	case "uint32":
		raw = uint64(clamp(whole, 0, math.MaxUint32-1))
	case "uint64":
		raw = uint64(clamp(whole, 0, 1<<62))
	case "bit", "bool":
		if x != 0 {
			raw = 1
		}
	default:
		raw = uint64(clamp(whole, 0, math.MaxUint16-1))
	}
	return r.spread(raw)
}

// lowest is the least value that may be written.
func (r *register) lowest() float64 {
	if r.lo == nil {
		return 0
	}
	return *r.lo
}

// raw finds the raw value of a word.
func (r *register) raw(name string) (uint64, bool) {
	for _, w := range r.words {
		if w.Word == name {
			return w.Raw, true
		}
	}
	return 0, false
}

func clamp(x, lo, hi float64) float64 { return math.Max(lo, math.Min(hi, x)) }

package control

import (
	"fmt"
	"math"
)

// sunsMarker opens a chain of SunSpec models: "SunS".
var sunsMarker = [2]uint16{0x5375, 0x6E53}

// chainEnd is the identifier of the model that closes a chain.
const chainEnd = 0xFFFF

// longestChain bounds a walk over a device that never closes its chain.
const longestChain = 64

// model is where a SunSpec model stands. Offsets count from its first register,
// the identifier, so that they are those of the model definitions.
type model struct {
	address uint16
	length  uint16 // without identifier and length
}

// walk follows a chain of SunSpec models from a base address by their lengths
// and lists the first of each identifier.
func walk(b Bus, base uint16) (map[uint16]model, error) {
	head, err := b.Read("holding", base, 2)
	if err != nil {
		return nil, err
	}
	if head[0] != sunsMarker[0] || head[1] != sunsMarker[1] {
		return nil, fmt.Errorf("registers %d and %d read %#04x %#04x: must be the marker %#04x %#04x",
			base, base+1, head[0], head[1], sunsMarker[0], sunsMarker[1])
	}
	models := map[uint16]model{}
	at := uint32(base) + 2
	for range longestChain {
		if at+1 > math.MaxUint16 {
			return nil, fmt.Errorf("the model chain from %d runs over the last register", base)
		}
		head, err := b.Read("holding", uint16(at), 2)
		if err != nil {
			return nil, err
		}
		if head[0] == chainEnd {
			return models, nil
		}
		if _, seen := models[head[0]]; !seen {
			models[head[0]] = model{address: uint16(at), length: head[1]}
		}
		at += 2 + uint32(head[1])
	}
	return nil, fmt.Errorf("the model chain from %d has no end after %d models", base, longestChain)
}

// block is the registers of one model as read, from an offset on.
type block struct {
	from  uint16
	words []uint16
}

// fetch reads part of a model, both offsets included, as far as it is there.
func fetch(b Bus, m model, from, to uint16) (block, error) {
	to = min(to, m.length+1)
	if from > to {
		return block{from: from}, nil
	}
	words, err := b.Read("holding", m.address+from, to-from+1)
	return block{from: from, words: words}, err
}

// word is the register at an offset.
func (k block) word(offset uint16) (uint16, bool) {
	if offset < k.from || int(offset-k.from) >= len(k.words) {
		return 0, false
	}
	return k.words[offset-k.from], true
}

// exponent is the power of ten at an offset. A scale factor outside -10..10 is
// one that the standard does not know.
func (k block) exponent(offset uint16) (int, bool) {
	w, ok := k.word(offset)
	e := int(int16(w))
	return e, ok && e >= -10 && e <= 10
}

// signed is an int16 point with its scale factor. 0x8000 is not implemented.
func (k block) signed(offset, scaleOffset uint16) Reading {
	w, ok := k.word(offset)
	e, scaled := k.exponent(scaleOffset)
	if !ok || !scaled || w == 0x8000 {
		return Reading{}
	}
	return Known(scaleBy(float64(int16(w)), e))
}

// unsigned is a uint16 point with its scale factor. 0xFFFF is not implemented.
func (k block) unsigned(offset, scaleOffset uint16) Reading {
	w, ok := k.word(offset)
	e, scaled := k.exponent(scaleOffset)
	if !ok || !scaled || w == 0xFFFF {
		return Reading{}
	}
	return Known(scaleBy(float64(w), e))
}

// scaleBy is x times ten to the power e. Negative powers divide, so that the
// result is the number closest to the decimal one.
func scaleBy(x float64, e int) float64 {
	if e < 0 {
		return x / math.Pow10(-e)
	}
	return x * math.Pow10(e)
}

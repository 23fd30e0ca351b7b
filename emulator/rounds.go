package emulator

import (
	"encoding/binary"
	"slices"

	"kilter/emulator/modbus"
)

// rounds tells where each poll of a controller begins, from nothing but what it reads. A poll begins when the
// controller reads again what it has read first in the poll before.
//
// There are controllers that first look their devices over and never again read what they read then, or that leave out a
// device that is lost. So a poll also begins when anything is read for the third time since the last one began;
// what of that was read first, and more than once, begins the polls from then on.
type rounds struct {
	first reading
	reads map[reading]int // since the poll began, how often
	order []reading       // as they came
}

// reading is a request to read, whatever its transaction number.
type reading struct {
	device            int // by its order
	function          byte
	address, quantity uint16
}

// mostReadings bounds what is remembered of one poll.
const mostReadings = 4096

// begins takes one more request into account, and says whether it begins a poll.
func (r *rounds) begins(d *device, x modbus.Exchange) bool {
	asks, is := readingOf(d, x)
	if !is {
		return false
	}
	switch {
	case r.reads == nil:
		r.reads = map[reading]int{}
		r.first = asks
	case asks == r.first:
	case r.reads[asks] == 2:
		r.first = r.order[slices.IndexFunc(r.order, func(x reading) bool { return r.reads[x] > 1 })]
	default:
		r.note(asks)
		return false
	}
	clear(r.reads)
	r.order = r.order[:0]
	r.note(asks)
	return asks == r.first // else this poll has begun already, unnoticed
}

func (r *rounds) note(asks reading) {
	if r.reads[asks] == 0 {
		if len(r.order) == mostReadings {
			return
		}
		r.order = append(r.order, asks)
	}
	r.reads[asks]++
}

// readingOf takes a request apart, if it is one to read registers or bits.
func readingOf(d *device, x modbus.Exchange) (reading, bool) {
	const length = mbapLength + 1 + 4
	if x.Function < 1 || x.Function > 4 || len(x.Request) < length {
		return reading{}, false
	}
	at := x.Request[mbapLength+1:]
	return reading{d.order, x.Function, binary.BigEndian.Uint16(at), binary.BigEndian.Uint16(at[2:])}, true
}

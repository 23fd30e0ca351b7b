package wrong

import (
	"encoding/binary"
	"time"

	"kilter/cmd/steady/control"
)

// wallClock is the design with set points that goes by the clock on the wall: it takes the seconds since midnight for
// the time, and does nothing before the time that it has noted for its next turn.
func wallClock() parts {
	var timeMS, ofDay uint16
	p := misreads(func(file entry) {
		clock := file.under("clock")
		timeMS = uint16(clock.point("time_ms").number("address"))
		ofDay = uint16(clock.point("local_second_of_day").number("address"))
	})()
	p.Bus = func(device string, b control.Bus) control.Bus {
		if device != control.Clock {
			return b
		}
		return tap{Bus: b, read: func(b control.Bus, table string, address, count uint16) ([]uint16, error) {
			if address != timeMS {
				return b.Read(table, address, count)
			}
			words, err := b.Read(table, ofDay, 2)
			if err != nil {
				return nil, err
			}
			seconds := uint32(words[0])<<16 | uint32(words[1])
			ms := binary.BigEndian.AppendUint32(nil, 1000*seconds)
			return []uint16{binary.BigEndian.Uint16(ms), binary.BigEndian.Uint16(ms[2:])}, nil
		}}
	}
	design, next := sound(), time.Duration(0)
	p.Mind = brain{decide: func(s control.Snapshot, o orders) {
		if s.At >= next {
			next = s.At + 5*time.Second
			design.decide(s, o)
		}
	}}.mind
	p.args = []string{"--period", "5s"}
	return p
}

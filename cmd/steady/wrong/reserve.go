package wrong

import "kilter/cmd/steady/control"

// storageReserve is MinRsvPct, from the third register of model 124 on.
const storageReserve = 7 - 2

// spender writes a reserve of nothing to both inverters, once each.
type spender struct {
	file  func() parts
	south uint16 // where south keeps its reserve
}

// spendsReserve is the reference controller that also sets reserves.
func spendsReserve() *spender {
	s := &spender{}
	s.file = misreads(func(file entry) {
		s.south = uint16(file.device("south").point("reserve").number("address"))
	})
	return s
}

func (s *spender) parts() parts {
	p := s.file()
	p.Bus = func(name string, b control.Bus) control.Bus {
		done := false
		return tap{Bus: b, read: func(b control.Bus, table string, address, count uint16) ([]uint16, error) {
			words, err := b.Read(table, address, count)
			switch {
			case err != nil || done:
			case name == "south":
				done = b.Write("holding", s.south, []uint16{0}) == nil
			case isStorage(words):
				done = b.Write("holding", address+storageReserve, []uint16{0}) == nil
			}
			return words, err
		}}
	}
	return p
}

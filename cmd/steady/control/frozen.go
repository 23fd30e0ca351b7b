package control

import "math"

// A live meter is never still: its noise alone moves the last digit. One that
// tells the same for a minute while the batteries move is frozen.
const (
	frozenPolls = 6
	frozenMoveW = 200
)

// frozenGuard takes a grid meter for unknown while it is frozen.
type frozenGuard struct {
	valueW float64
	polls  int
	from   map[string]float64 // what each battery did when the value came up [W]
	moved  bool
}

func (f *frozenGuard) check(s Snapshot) Reading {
	if !s.Grid.Known {
		*f = frozenGuard{}
		return s.Grid
	}
	if f.polls == 0 || s.Grid.Value != f.valueW {
		*f = frozenGuard{valueW: s.Grid.Value, polls: 1, from: map[string]float64{}}
		for _, u := range s.Units {
			if u.Power.Known {
				f.from[u.Name] = u.Power.Value
			}
		}
		return s.Grid
	}
	f.polls++
	for _, u := range s.Units {
		if was, ok := f.from[u.Name]; ok && u.Power.Known && math.Abs(u.Power.Value-was) > frozenMoveW {
			f.moved = true
		}
	}
	if f.frozen() {
		return Reading{}
	}
	return s.Grid
}

func (f *frozenGuard) frozen() bool { return f.moved && f.polls >= frozenPolls }

package control

import "math"

// Near zero, where the native loops keep it, a coarse meter may well tell the
// same for minutes. One that tells the same flow away from zero for a minute,
// while the batteries move, is frozen.
const (
	frozenPolls = 6
	frozenMoveW = 200
	frozenFlowW = 150
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

func (f *frozenGuard) frozen() bool {
	return f.moved && f.polls >= frozenPolls && math.Abs(f.valueW) > frozenFlowW
}

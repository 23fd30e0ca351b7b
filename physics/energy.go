package physics

// Energy integrates a mean power per tick [W] to an energy [Wh].
//
// The powers of blockTicks ticks are summed plainly and then enter a compensated sum:
// a compensated sum for each of a dozen energies in each tick would cost more than the rest of
// the step, and 64 terms lose nothing that shows in a picowatthour.
type Energy struct {
	booked Sum
	block  float64 // since the last booking [W x ticks]
	hours  float64 // length of a tick [h]
}

// blockTicks is how many ticks are summed before they are booked.
const blockTicks = 64

func newEnergy(stepMS int64) Energy { return Energy{hours: float64(stepMS) / 3.6e6} }

// add takes one tick's mean power [W].
func (e *Energy) add(meanW float64) { e.block += float64(meanW) }

// flush books the block.
func (e *Energy) flush() {
	e.booked.add(e.block * e.hours)
	e.block = 0
}

// Wh is the energy so far [Wh].
func (e *Energy) Wh() float64 { return e.booked.Value() + float64(e.block*e.hours) }

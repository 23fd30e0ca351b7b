package suites

import (
	"iter"

	"kilter/emulator"
	"kilter/scenarios"
	"kilter/suites/criteria"
)

// Judging is a judge as a test drives it.
type Judging struct{ *judge }

// NewJudging makes the judge of a scenario.
func NewJudging(sc *scenarios.Scenario) (Judging, error) {
	j, err := newJudge(sc)
	return Judging{j}, err
}

// Fill makes what the monitors see of a tick.
func (j Judging) Fill(t *emulator.Tick) *criteria.Sample { return j.feed.fill(t) }

// Observe shows it to all of them.
func (j Judging) Observe(s *criteria.Sample) {
	for _, m := range j.monitors {
		m.Observe(s)
	}
}

// See does both.
func (j Judging) See(t *emulator.Tick) { j.see(t) }

// Link is the place on the wire of an inverter, and Grid that of the meter by which a controller steers.
func (j Judging) Link(inverter int) int { return j.feed.link[inverter] }
func (j Judging) Grid() int             { return j.feed.grid[0] }

// Devices is how many there are on the wire.
func (j Judging) Devices() int { return len(j.feed.inverter) }

// Ring is what holds the last of many things.
type Ring struct{ ring[int] }

// NewRing makes one.
func NewRing(size int) *Ring { return &Ring{newRing[int](size)} }

// Push and All are its own.
func (r *Ring) Push(i int)         { r.push(i) }
func (r *Ring) All() iter.Seq[int] { return r.all() }

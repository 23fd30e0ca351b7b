package suites

import (
	"kilter/emulator"
	"kilter/emulator/registers"
	"kilter/scenarios"
)

// recall remembers what was last commanded and read, so that a failure can be told with what led to it. It holds so
// much and no more, however long a run is.
type recall struct {
	commands ring[emulator.Command]
	reads    ring[emulator.Read]
	second   int64            // ticks in one
	latest   map[learnt]int64 // the tick of what was kept last
}

// learnt is one value of one device.
type learnt struct {
	place  int
	signal registers.Signal
}

// Some minutes of a controller that asks and commands each second, hours of one that does so each ten.
const (
	recalledCommands = 1024
	recalledReads    = 2048
)

func newRecall(sc *scenarios.Scenario) recall {
	return recall{
		commands: newRing[emulator.Command](recalledCommands), reads: newRing[emulator.Read](recalledReads),
		second: max(1, 1000/sc.Step.Milliseconds()), latest: map[learnt]int64{},
	}
}

// see takes one tick. Of a value that is read more than once a second one reading a second is kept.
func (r *recall) see(t *emulator.Tick) {
	for _, c := range t.Commands {
		r.commands.push(c)
	}
	for _, x := range t.Reads {
		key := learnt{x.Place, x.Signal}
		if last, known := r.latest[key]; known && x.Tick-last < r.second {
			continue
		}
		r.latest[key] = x.Tick
		r.reads.push(x)
	}
}

// A cause has so many commands from before a failure began, and from then until it was found.
const commandsOfCause = 8

// scene is what is remembered of how one criterion came to fail.
type scene struct {
	breach, found int64 // ticks
	commands      []emulator.Command
	reads         []emulator.Read
}

// scene gathers what is remembered of a failure that began at one tick and was found at another.
func (r *recall) scene(breach, found int64) *scene {
	s := &scene{breach: breach, found: found}
	var before, after []emulator.Command
	for c := range r.commands.all() {
		switch {
		case c.Tick < breach:
			before = append(before, c)
		case len(after) < commandsOfCause:
			after = append(after, c)
		}
	}
	s.commands = append(before[max(0, len(before)-commandsOfCause):], after...)
	first, last := map[learnt]int{}, map[learnt]int{} // what was read last before the breach, and in all
	var all []emulator.Read
	for x := range r.reads.all() {
		if x.Tick < breach {
			first[learnt{x.Place, x.Signal}] = len(all)
		}
		last[learnt{x.Place, x.Signal}] = len(all)
		all = append(all, x)
	}
	for i, x := range all {
		key := learnt{x.Place, x.Signal}
		if at, known := first[key]; known && at == i || last[key] == i {
			s.reads = append(s.reads, x)
		}
	}
	return s
}

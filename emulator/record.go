package emulator

// Record is all that controllers did to a run, tick by tick: what it takes to move the plant again as it moved, and to
// show an observer again what it saw.
type Record struct {
	Commands []Command
	// Seen is the rest of what a Tick shows of controllers, in the order of time.
	Seen []Seen
	// EndMS is the simulated time at which the run ended.
	EndMS int64

	last Presence
}

// Seen is one thing that an observer saw of controllers.
type Seen struct {
	Tick   int64 // at whose beginning
	Place  int   // of the device among those on the wire; 0 for the controller itself
	What   What
	Number int     // how many requests or registers; the presence; how many ticks ago a value was read
	Signal int     // the signal that was read, or the first register that was written
	Told   float64 // what was read
	True   float64 // and what was so
}

// What is the kind of thing that was seen.
type What uint8

// The kinds. Of requests Number says how many there were since the tick before.
const (
	SawController What = iota // its presence from then on
	SawReads
	SawWrites
	SawExceptions
	SawIllegal
	SawForbidden
	SawWritten // one write, of Number registers from Signal on
	SawRefused // one that was refused
	SawTold    // one value that was read
)

// Whats are the words of the kinds.
var Whats = [...]string{"controller", "reads", "writes", "exceptions", "illegal", "forbidden", "written", "refused", "told"}

// Take adds what a tick shows.
func (r *Record) Take(t *Tick) {
	r.Commands = append(r.Commands, t.Commands...)
	tick := t.Plant.Tick() - 1
	if r.last != t.Controller {
		r.last = t.Controller
		r.Seen = append(r.Seen, Seen{Tick: tick, What: SawController, Number: int(t.Controller)})
	}
	r.EndMS = t.Plant.TimeMS()
	for i := range t.Writes {
		w := &t.Writes[i]
		what := SawWritten
		if w.Outcome == Refused {
			what = SawRefused
		}
		r.Seen = append(r.Seen, Seen{Tick: tick, Place: w.Place, What: what, Number: len(w.Values), Signal: int(w.Register)})
	}
	for i := range t.Requests {
		q := &t.Requests[i]
		for what, n := range q.counts() {
			if n > 0 {
				r.Seen = append(r.Seen, Seen{Tick: tick, Place: q.Place, What: SawReads + What(what), Number: n})
			}
		}
	}
	for _, x := range t.Reads {
		r.Seen = append(r.Seen, Seen{Tick: tick, Place: x.Place, What: SawTold, Number: int(tick - x.Tick), Signal: int(x.Signal), Told: x.Told, True: x.True})
	}
}

// counts are the counts in the order of their kinds.
func (q *Requests) counts() [5]int {
	return [...]int{q.Reads, q.Writes, q.Exceptions, q.Illegal, q.Forbidden}
}

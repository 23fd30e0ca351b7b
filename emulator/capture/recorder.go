package capture

import (
	"bufio"
	"cmp"
	"io"
	"slices"
	"time"
)

// Connection is one client's connection to one served address.
type Connection struct {
	Endpoint int    // counts the served addresses from 0
	Client   int    // counts the controllers from 0
	Number   uint64 // counts the controller's connections to the address from 1
}

// End says how the server ended a connection with an answer.
type End uint8

// The ends.
const (
	Stays   End = iota // it goes on
	HangsUp            // closed
	Resets             // reset
)

// What bounds the memory of one instant: a client may ask without end while time stands still.
const (
	maxFrames = 1 << 14
	maxBytes  = 1 << 22
)

// frame is one Modbus frame of the instant, or the end of a connection.
type frame struct {
	Connection
	phase    phase
	reply    bool
	sequence int
	from, to int // its bytes in the instant's
	end      End
}

// phase orders frames of one instant.
type phase uint8

const (
	late  phase = iota // answers to what was asked earlier
	whole              // asked and answered now
	early              // to be answered later
)

// asked is a request that is not answered yet.
type asked struct {
	instant int
	index   int // among the frames of that instant
}

// Recorder writes the frames of a run. It is not safe for use by several goroutines at once, and
// keeps one instant in memory.
type Recorder struct {
	out     *bufio.Writer
	packets *packets
	err     error

	at      time.Duration
	instant int // counts the flushes
	frames  []frame
	bytes   []byte
	pending map[Connection]asked
}

// New begins a file. starts is the date of simulated time 0.
func New(w io.Writer, starts time.Time) *Recorder {
	out := bufio.NewWriterSize(w, 1<<16)
	r := &Recorder{out: out, pending: map[Connection]asked{}}
	r.packets, r.err = newPackets(out, starts)
	return r
}

// Ask takes a request that is to be answered. Its bytes are copied.
func (r *Recorder) Ask(at time.Duration, c Connection, request []byte) {
	r.move(at)
	r.pending[c] = asked{r.instant, r.add(frame{Connection: c, phase: early}, request)}
}

// Answer takes the reply to a request, which may be empty, and how the connection goes on. The
// request counts as asked now if Ask has not seen it.
func (r *Recorder) Answer(at time.Duration, c Connection, request, reply []byte, end End) {
	r.move(at)
	question, waited := r.pending[c]
	delete(r.pending, c)
	phase := whole
	switch {
	case !waited:
		r.add(frame{Connection: c, phase: whole}, request)
	case question.instant == r.instant:
		r.frames[question.index].phase = whole
	default:
		phase = late
	}
	if len(reply) > 0 || end != Stays {
		r.add(frame{Connection: c, phase: phase, reply: true, end: end}, reply)
	}
}

// Close writes what is left, and tells the first error of all.
func (r *Recorder) Close() error {
	r.flush()
	if err := r.out.Flush(); r.err == nil {
		r.err = err
	}
	return r.err
}

// move ends the instant when time has moved. Time that seems to go back, as it may between
// goroutines in a pace that follows the wall clock, stands still.
func (r *Recorder) move(at time.Duration) {
	if at > r.at {
		r.flush()
		r.at = at
	}
	if len(r.frames) >= maxFrames || len(r.bytes) >= maxBytes {
		r.flush()
	}
}

// add keeps a frame, and returns its index.
func (r *Recorder) add(f frame, text []byte) int {
	f.sequence, f.from = len(r.frames), len(r.bytes)
	r.bytes = append(r.bytes, text...)
	f.to = len(r.bytes)
	r.frames = append(r.frames, f)
	return f.sequence
}

// flush writes the instant in its order.
func (r *Recorder) flush() {
	slices.SortFunc(r.frames, func(x, y frame) int {
		return cmp.Or(cmp.Compare(x.phase, y.phase), cmp.Compare(x.Endpoint, y.Endpoint),
			cmp.Compare(x.Client, y.Client), cmp.Compare(x.Number, y.Number), cmp.Compare(x.sequence, y.sequence))
	})
	for _, f := range r.frames {
		if r.err == nil {
			r.err = r.packets.write(r.at, f, r.bytes[f.from:f.to])
		}
	}
	r.frames, r.bytes = r.frames[:0], r.bytes[:0]
	r.instant++
}

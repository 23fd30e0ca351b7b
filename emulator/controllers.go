package emulator

import (
	"cmp"
	"slices"

	"kilter/emulator/modbus"
	"kilter/emulator/registers"
	"kilter/scenarios"
)

// Several controllers at once reach the devices at addresses of their own, so that it is known who asks. Within one
// instant each sees the state at its opening and its own writes; at the next tick all writes are carried out as if
// one controller had made them after the other. What is left to decide who comes first is the controller's number.

// controllers is how many there are.
func (b *Bench) controllers() int {
	if b.trials.doubled {
		return secondCopy + 1
	}
	return max(1, len(b.options.Several))
}

// called names a controller where there are several, as the subject of a sentence.
func (b *Bench) called(controller int) string {
	switch {
	case b.controllers() == 1, b.trials.doubled && controller == firstCopy:
		return "the controller"
	case b.trials.doubled:
		return "the controller's second copy"
	}
	return "the controller " + b.options.Several[controller]
}

// caller is a connection of a controller to a device.
type caller struct {
	controller int
	connection uint64
}

func callerOf(p modbus.Peer) caller { return caller{p.Controller, p.Conn} }

// imageWrite is one of an image's methods that take a write.
type imageWrite = func(im *registers.Image, address uint16, values []uint16, emit func(registers.Command)) error

// held is a write that its controller alone sees until the next tick.
type held struct {
	controller, sequence int
	device               *device
	write                imageWrite
	address              uint16
	values               []uint16
}

// seenBy is the image that a controller reads. The caller holds the mutex.
func (d *device) seenBy(controller int) *registers.Image {
	if d.views != nil && d.viewed == d.bench.plant.Tick() && d.views[controller] != nil {
		return d.views[controller]
	}
	return d.image
}

// written is the image that a controller writes to: a copy of its own where there are several. The caller holds the
// mutex.
func (d *device) written(controller int) *registers.Image {
	if d.bench.controllers() == 1 {
		return d.image
	}
	// One that is left over is from a write that was refused, since nothing was held then.
	if tick := d.bench.plant.Tick(); d.views == nil || d.viewed != tick {
		d.views, d.viewed = make([]*registers.Image, d.bench.controllers()), tick
	}
	if d.views[controller] == nil {
		d.refresh()
		d.views[controller] = &registers.Image{}
		d.views[controller].CopyFrom(d.image)
	}
	return d.views[controller]
}

// hold keeps a write until the next tick. The caller holds the mutex.
func (b *Bench) hold(controller int, d *device, write imageWrite, address uint16, values []uint16) {
	in := &b.inbox
	in.held = append(in.held, held{controller, len(in.held), d, write, address, slices.Clone(values)})
}

// merge carries out the writes that were held, and posts the commands in them.
func (b *Bench) merge() {
	in := &b.inbox
	slices.SortFunc(in.held, func(x, y held) int {
		return cmp.Or(x.controller-y.controller, x.device.order-y.device.order, x.sequence-y.sequence)
	})
	for _, h := range in.held {
		h.device.views = nil
		// What the view has taken the image takes: whether it does hinges on the values alone.
		_ = h.write(h.device.image, h.address, h.values, func(c registers.Command) { b.post(h.controller, h.device, c) })
	}
	in.held = in.held[:0]
}

// waitsBelow says whether each of the first n controllers waits, is away or has ended. The caller holds the mutex.
func (b *Bench) waitsBelow(n int) bool {
	for i := range n {
		if !b.waiting(i) {
			return false
		}
	}
	return true
}

// waiting says whether a controller waits, is away or has ended. The caller holds the mutex.
func (b *Bench) waiting(controller int) bool {
	return b.away(controller) || b.waits.left[controller] || slices.ContainsFunc(b.waits.pending, func(w *wait) bool { return w.controller == controller })
}

// contended says that it matters who of several controllers asks a device first, at one instant.
func (d *device) contended() bool {
	if d.bench.controllers() == 1 || d.bench.options.Pace > 0 {
		return false
	}
	w := &d.wire
	return w.Clients > 0 || w.Gap > 0 || w.Endurance > 0 || slices.ContainsFunc(d.link.faults.all(), func(f linkFault) bool {
		return f.Kind == scenarios.Jittery || f.Kind == scenarios.Garbage
	})
}

// turn holds a request up until all controllers of a lower number wait, so that they come first; it is not so if the
// run ends before. The caller does not hold the mutex.
func (b *Bench) turn(from modbus.Peer) bool {
	b.mutex.Lock()
	defer b.mutex.Unlock()
	for !b.waitsBelow(from.Controller) {
		select {
		case <-b.over:
			return false
		default:
			b.waits.turns.Wait()
		}
	}
	return true
}

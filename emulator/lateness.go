package emulator

import (
	"math"
	"math/bits"
	"time"
)

// Lateness tells how well the plant kept a pace that follows the wall clock: how long after its
// time on the wall clock each step began.
type Lateness struct {
	Steps           int64
	Step            time.Duration // how long one takes on the wall clock
	P50, P99, Worst time.Duration
}

// FellBehind tells whether more than one step in a hundred began after the next one was due: a
// controller then met a plant that stood still and leapt.
func (l Lateness) FellBehind() bool { return l.Steps > 0 && l.P99 > l.Step }

// punctuality counts how late steps began, in classes each a sixteenth wider than the one before,
// so that its memory does not grow with the run.
type punctuality struct {
	classes [64 * 16]int64
	steps   int64
	worst   time.Duration
}

// note counts one step.
func (p *punctuality) note(late time.Duration) {
	late = max(late, 0)
	p.steps++
	p.worst = max(p.worst, late)
	p.classes[class(late)]++
}

// class numbers the class of a lateness: up to 16 ns each is its own.
func class(late time.Duration) int {
	n := uint64(late)
	if n < 16 {
		return int(n)
	}
	shift := bits.Len64(n) - 5
	return shift*16 + int(n>>shift)
}

// quantile is the least lateness, to the upper edge of its class, that so large a part of the
// steps did not exceed.
func (p *punctuality) quantile(part float64) time.Duration {
	wanted := int64(math.Ceil(part * float64(p.steps)))
	seen := int64(0)
	for i, n := range p.classes {
		if seen += n; n > 0 && seen >= wanted {
			return min(edge(i), p.worst)
		}
	}
	return 0
}

// edge is the largest lateness in a class.
func edge(class int) time.Duration {
	if class < 32 {
		return time.Duration(class)
	}
	shift := class/16 - 1
	return time.Duration((class%16+17)<<shift - 1)
}

// Lateness tells how well the plant has kept its pace so far; it is zero where no wall clock is followed.
func (b *Bench) Lateness() Lateness {
	b.mutex.Lock()
	defer b.mutex.Unlock()
	p := &b.punctuality
	if p.steps == 0 {
		return Lateness{}
	}
	return Lateness{
		Steps: p.steps, Step: b.options.Pace.wall(time.Duration(b.stepMS) * time.Millisecond),
		P50: p.quantile(0.50), P99: p.quantile(0.99), Worst: p.worst,
	}
}

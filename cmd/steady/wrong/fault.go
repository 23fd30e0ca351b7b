package wrong

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"kilter/cmd/steady/control"
)

// Fault is one way of being wrong.
type Fault struct {
	Name string
	Does string // what the controller does wrong, in one sentence
	Shows
	make func() parts
}

// Shows is where a fault comes to light: the story, the criterion that fails in it, and the span of simulated
// time in which it is violated first.
type Shows struct {
	Story, Criterion string
	From, To         time.Duration
}

// Alive stands in the place of a criterion where the controller itself ends.
const Alive = "controller"

// SetPoints tells whether the fault is one of the design that gives set points.
func (f Fault) SetPoints() bool {
	return slices.ContainsFunc(setPoints, func(g Fault) bool { return g.Name == f.Name })
}

// parts are a controller: what differs from the reference controller, and its arguments.
type parts struct {
	control.Program
	args []string
}

// All lists the faults by name.
func All() []Fault {
	all := slices.Concat(readings, wires, timings, policies, tariffs, setPoints)
	slices.SortFunc(all, func(a, b Fault) int { return strings.Compare(a.Name, b.Name) })
	return all
}

// Find finds a fault by its name.
func Find(name string) (Fault, error) {
	all := All()
	i := slices.IndexFunc(all, func(f Fault) bool { return f.Name == name })
	if i < 0 {
		return Fault{}, fmt.Errorf("no controller is wrong in the way %q; kilter list shows those that are", name)
	}
	return all[i], nil
}

// Main runs the controller with that fault until the bench closes or a signal comes, and returns the exit code.
func (f Fault) Main(args []string, stderr io.Writer) int {
	p := f.make()
	return p.Main(append(p.args, args...), stderr)
}

// steady is the reference controller with other settings.
func steady(args ...string) func() parts {
	return func() parts { return parts{args: args} }
}

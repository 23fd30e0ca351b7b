package control

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"
)

// Program is a controller of these parts. The zero value is the reference controller; each field that is
// set puts something else in the place of a part, or between two of them.
type Program struct {
	// Bench changes the text of the bench file as it is read.
	Bench func(text []byte) ([]byte, error)
	// Bus stands between the controller and one device, or the bench's Clock.
	Bus func(device string, b Bus) Bus
	// Mind decides in place of the policy, which it may ask.
	Mind func(p *Policy) Mind
}

// Clock is the name of the bench clock among the devices.
const Clock = "clock"

// between is the bus to a device with whatever stands in between.
func (p Program) between(device string, b Bus) Bus {
	if p.Bus == nil {
		return b
	}
	return p.Bus(device, b)
}

// Mind decides what the units are told.
type Mind interface {
	// Decide answers the commands that change something, once a poll.
	Decide(s Snapshot) []Command
	// GridFrozen tells whether the grid meter was not believed at the last poll.
	GridFrozen() bool
}

// Main runs the controller until the bench closes or a signal comes, and returns the exit code.
func (p Program) Main(args []string, stderr io.Writer) int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	return p.run(ctx, args, stderr)
}

func (p Program) run(ctx context.Context, args []string, stderr io.Writer) int {
	o, err := parse(args, stderr)
	if errors.Is(err, flag.ErrHelp) {
		return exitDone
	}
	if err != nil {
		fmt.Fprintln(stderr, "steady:", err)
		return exitUsage
	}
	bench, err := loadBench(o.bench, p.Bench)
	if err != nil {
		fmt.Fprintln(stderr, "steady:", err)
		return exitUsage
	}
	if err := newSupervisor(bench, o, p, stderr).run(ctx); err != nil {
		fmt.Fprintln(stderr, "steady:", err)
		return exitFault
	}
	return exitDone
}

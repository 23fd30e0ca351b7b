package suites

import (
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"kilter/emulator"
)

// Controller is what is put to the test, in one of four ways. Without any nobody is on the wire, and the inverters'
// native loops are left alone.
type Controller struct {
	// Name is how verdicts call it.
	Name string
	// Command is a program and its arguments, in any language. It finds the bench through KILTER_BENCH.
	Command []string
	// Settings are environment variables for the Command, each as NAME=VALUE.
	Settings []string
	// InLines says that the Command speaks in lines on its standard input and output, in place of Modbus.
	InLines bool
	// Serve is a controller in this process that speaks Modbus to the addresses in the bench's file. It should return
	// when its context ends, or when the clock closes its connection; an error says that it has died.
	Serve func(ctx context.Context, bench emulator.File) error
	// Policy makes a controller in this process that the bench polls, with decoded values and no sockets. It is called
	// for each play, so that no play remembers another.
	Policy func() emulator.Policy
	// Attach is for one that runs already, and that the bench neither starts nor stops: it is called once the bench can
	// be reached, to tell where. Time begins with its first request.
	Attach func(*emulator.Bench) error
}

// Comes says whether anybody is to come.
func (c *Controller) Comes() bool { return c.ways() > 0 }

// check says whether it is one controller.
func (c *Controller) check() error {
	if n := c.ways(); n > 1 {
		return fmt.Errorf("the controller %s has %d of Command, Serve, Policy and Attach: give one", c.Name, n)
	}
	return nil
}

// ways is in how many ways it comes.
func (c *Controller) ways() (n int) {
	for _, is := range [...]bool{len(c.Command) > 0, c.Serve != nil, c.Policy != nil, c.Attach != nil} {
		if is {
			n++
		}
	}
	return n
}

// leave is how long on the wall clock a controller may take to go by itself after the end, and obey how long it may
// take to obey a signal.
const (
	leave = time.Second
	obey  = 2 * time.Second
)

// keeper keeps the controllers that the bench can start, pause and kill.
type keeper interface {
	emulator.Controllers
	Open(*emulator.Bench) error
	Gone() <-chan error
	Close(leave, obey time.Duration) error
}

// keeper makes what can be done to the controllers; nil where nothing can.
func (opt *Options) keeper() keeper {
	c := &opt.Controller
	switch {
	case len(opt.Beside) > 0:
		return newTeam(opt)
	case c.Policy != nil:
		return emulator.NewPerformers(c.Policy)
	case len(c.Command) > 0:
		return c.process(opt.Log, opt.Limits)
	}
	return nil
}

// process makes the keeper of a program.
func (c *Controller) process(log io.Writer, limits emulator.Limits) *emulator.Keeper {
	k := emulator.NewKeeper(c.Command, log, limits).Setting(c.Settings)
	if c.InLines {
		k.InLines()
	}
	return k
}

// run starts the controller if there is one, runs the bench, and stops the controller. The bench closes first, so that
// a controller that waits sees the end and not a signal.
func run(ctx context.Context, bench *emulator.Bench, keep keeper, opt Options, out *Outcome) (err error) {
	if !opt.Controller.Comes() {
		return bench.Run(ctx, nil)
	}
	out.File = bench.File()
	if opt.Controller.Attach != nil {
		if err := opt.Controller.Attach(bench); err != nil {
			return err
		}
		return bench.Run(ctx, nil)
	}
	if keep == nil {
		return serve(ctx, bench, opt.Controller.Serve, out.File)
	}
	defer func() {
		bench.Close()
		if closing := keep.Close(leave, obey); err == nil {
			err = closing
		}
	}()
	if err := keep.Open(bench); err != nil {
		return err
	}
	return bench.Run(ctx, keep.Gone())
}

// serve runs the bench with a controller in this process that talks to its ports.
func serve(ctx context.Context, bench *emulator.Bench, controller func(context.Context, emulator.File) error, file emulator.File) error {
	inner, cancel := context.WithCancel(ctx)
	defer cancel()
	gone := make(chan error, 1)
	left := make(chan struct{})
	go func() {
		defer close(left)
		defer func() {
			if r := recover(); r != nil {
				gone <- fmt.Errorf("a panic: %v", r)
			}
		}()
		gone <- controller(inner, file)
	}()
	ended := bench.Run(ctx, gone)
	bench.Close()
	for _, patience := range [...]time.Duration{leave, obey} {
		select {
		case <-left:
			return ended
		case <-time.After(patience):
			cancel()
		}
	}
	return errors.Join(ended, errors.New("the controller does not return, though its context has ended"))
}

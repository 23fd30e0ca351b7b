package emulator

import (
	"cmp"
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"kilter/emulator/capture"
	"kilter/emulator/modbus"
	"kilter/emulator/registers"
	"kilter/physics"
	"kilter/scenarios"
)

// Options tune a bench.
type Options struct {
	Pace Pace
	// Host is the address to listen at, 127.0.0.1 by default. Another one lets other machines reach the bench.
	Host string
	// Port of the bench clock; the devices follow in the site's order. 0 picks free ports.
	Port int
	// Inside opens no ports: only policies in the bench's own process reach the devices, see StartPolicy.
	Inside bool
	// TLS, if not nil, makes the devices that answer Modbus TCP speak Modbus/TCP Security; the bench clock stays plain.
	TLS *tls.Config
	// StartTimeout is how long, on the wall clock, a controller may take to make its first
	// wait in stepped pace, or to begin its second poll in pace Follow: 20 seconds by default, and three polls
	// in pace Follow if that is longer.
	StartTimeout time.Duration
	// StallTimeout is how long, on the wall clock, it may take from one wait or poll to the next, by
	// default as long.
	StallTimeout time.Duration
	// Expect says that a controller is to come: with the wall clock too, the run ends when none has connected
	// within StartTimeout.
	Expect bool
	// Attach lets time stand still, with the wall clock too, until a controller has made its first request.
	Attach bool
	// Controllers, if not nil, are those to whom the bench can do what the scenario says.
	Controllers Controllers
	// Poll is the controllers' poll period in pace Follow, 10 seconds by default.
	Poll time.Duration
	// Several names the controllers where there is more than one: each then has addresses and a file of its own,
	// and in stepped pace time moves when all of them wait.
	Several []string
	// Endless lets a run go on after the scenario's end, and without a controller.
	Endless bool
	// Capture, if not nil, takes every frame until the run ends. Whoever gives it closes it.
	Capture *capture.Recorder
	// Replay moves the plant, in pace Free, as a recorded run moved it, up to the record's end.
	Replay *Record
	// Overhear, if not nil, is called with each exchange with a device, or with the clock, whose name is empty. It must
	// not keep the frames, which are used again.
	Overhear func(device string, x modbus.Exchange)
	// Observe is called after each tick, in order, while the plant stands still.
	Observe []func(*Tick)
}

// Tick is what an observer sees after a step. It is used again for the next one.
type Tick struct {
	Plant *physics.Plant
	// Events are those that began this tick.
	Events []scenarios.Event
	// Commands are those that took effect in this tick.
	Commands []Command
	// Writes are the requests to write that came since the tick before.
	Writes []Write
	// Requests are what was asked of each device since the tick before, in the order of the devices.
	Requests []Requests
	// Reads are what controllers learnt since the tick before, the last value of each.
	Reads []Read
	// Lost says of each device on the wire, by its place, whether a fault of its link keeps all answers away.
	Lost []bool
	// Controller is what is known of the controller.
	Controller Presence
	// Disturbed says that one of the events is a disturbance to be settled.
	Disturbed bool
	// Unfolding says that a disturbance is still moving the net load by itself, and nothing else
	// happens that is none.
	Unfolding bool
	// What the scenario intends at this time.
	ImportWanted, ExportWanted, Cheap bool
}

// Bench is a scenario on the wire.
type Bench struct {
	scenario *scenarios.Scenario
	options  Options
	plant    *physics.Plant
	endMS    int64
	stepMS   int64

	devices []*device // those on the wire, in the site's order
	clock   *clock
	// renewing are those that take snapshots by themselves.
	renewing []*device
	// spoiling are those whose replies the scenario spoils at times.
	spoiling []*device
	replay   *replay
	shared   []*port
	servers  []*modbus.Server
	// reached are the servers by the controller that they are for.
	reached [][]*modbus.Server
	layouts map[layoutKey]*registers.Map
	// undisturbed: in stepped pace, with one controller to whom nothing else happens.
	undisturbed bool
	// shownMS is the plant's time as the wire sees it: it moves only where the mutex is about to be given
	// back, so that nobody sees the middle of a wait.
	shownMS atomic.Int64

	mutex    sync.Mutex // guards all below, the plant and the devices' registers
	tickSeen Tick
	events   []scenarios.Event // still to come
	windows  windows
	lost     losses
	unfolds  time.Duration // until when a disturbance does
	// clockShift is how far the date and time of day have jumped that the bench clock tells.
	clockShift  time.Duration
	inbox       inbox
	waits       waits
	trials      trials
	strides     strides
	punctuality punctuality
	tempo       tempo
	retimed     chan struct{}   // that the tempo has changed
	waited      []Traffic       // by controller: the clock's part; each device counts its own
	rounds      []rounds        // by controller
	begun       []time.Duration // when each controller's poll began, in pace Follow
	hungUp      bool            // the run has ended: what comes now does not count
	over        chan struct{}   // closed when the run ends
	overOnce    sync.Once
}

// New builds the plant and opens the ports. Nothing moves before Run.
func New(sc *scenarios.Scenario, opt Options) (*Bench, error) {
	site := sc.Site.Plant
	site.StepMS = sc.Step.Milliseconds()
	site.Seed = sc.Seed
	site.Sky.StartUnixS = sc.Starts.Unix()
	plant, err := physics.New(site)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", sc.Source, err)
	}
	patience := 20 * time.Second
	if opt.Pace == Follow {
		if opt.Poll == 0 {
			opt.Poll = defaultPoll
		}
		patience = max(patience, 3*opt.Poll) // it may sleep on the wall clock between its polls
	}
	opt.StartTimeout, opt.StallTimeout = cmp.Or(opt.StartTimeout, patience), cmp.Or(opt.StallTimeout, patience)
	b := &Bench{
		scenario: sc, options: opt, plant: plant,
		endMS: sc.Lasts.Milliseconds(), stepMS: site.StepMS,
		events:  slices.Clone(sc.Events),
		windows: newWindows(sc),
		over:    make(chan struct{}),
		retimed: make(chan struct{}, 1),
	}
	slices.SortStableFunc(b.events, func(x, y scenarios.Event) int { return cmp.Compare(x.At, y.At) })
	b.tickSeen.Plant = plant
	b.trials = newTrials(sc, opt)
	b.undisturbed = opt.Pace == Stepped && b.controllers() == 1 && len(b.trials.toCome) == 0
	b.waits.asked = make(chan struct{}, 1)
	b.waits.turns.L = &b.mutex
	b.waits.came, b.waits.left = make([]bool, b.controllers()), make([]bool, b.controllers())
	b.waited, b.rounds, b.begun = make([]Traffic, b.controllers()), make([]rounds, b.controllers()), make([]time.Duration, b.controllers())
	b.reached = make([][]*modbus.Server, b.controllers())
	if opt.Replay != nil {
		b.options.Pace, b.options.Inside = Free, true
		b.endMS = min(b.endMS, opt.Replay.EndMS)
	} else if opt.Pace == Free {
		return b, nil
	}
	if err := b.wire(); err != nil {
		b.Close()
		return nil, err
	}
	if opt.Replay != nil {
		if b.replay, err = newReplay(b); err != nil {
			b.Close()
			return nil, fmt.Errorf("%s: %w", sc.Source, err)
		}
	}
	return b, nil
}

// Check makes what a scenario describes without opening a port, and says all that is wrong: its plant,
// and the registers of each device on the wire.
func Check(sc *scenarios.Scenario) error {
	b, err := New(sc, Options{Pace: Free})
	if err != nil {
		return err
	}
	var errs []error
	for _, d := range sc.Site.Devices {
		if d.Wire == nil {
			continue
		}
		_, err := b.newDevice(d)
		errs = append(errs, err)
	}
	return errors.Join(errs...)
}

// Scenario is what the bench plays.
func (b *Bench) Scenario() *scenarios.Scenario { return b.scenario }

// Now is the simulated time as the wire sees it.
func (b *Bench) Now() time.Duration { return time.Duration(b.shownMS.Load()) * time.Millisecond }

// Plant is the plant; it is for observers and for use after Run.
func (b *Bench) Plant() *physics.Plant { return b.plant }

// Close ends the run and closes every port and connection.
func (b *Bench) Close() error {
	b.overOnce.Do(func() { close(b.over) })
	b.mutex.Lock()
	b.waits.turns.Broadcast()
	b.mutex.Unlock()
	var errs []error
	for _, s := range b.servers {
		errs = append(errs, s.Close())
	}
	return errors.Join(errs...)
}

// ErrClosed is what Run returns when the bench is closed before the scenario's end.
var ErrClosed = errors.New("the bench was closed")

// Run moves simulated time to the scenario's end. It returns nil at the end, the
// context's error or ErrClosed when that ends first, or a *ControllerError.
//
// gone, if not nil, yields an error or nil once the controller has exited.
func (b *Bench) Run(ctx context.Context, gone <-chan error) error {
	defer b.hangUp()
	switch pace := b.options.Pace; {
	case pace == Stepped, pace == Follow:
		return b.runStepped(ctx, gone)
	case pace > 0:
		return b.runWithClock(ctx, gone)
	}
	for b.plant.TimeMS() < b.endMS {
		// Looking at the context costs more than a step.
		if b.plant.Tick()%1024 == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		b.tick()
	}
	return nil
}

// publish lets the wire see what time it is, before the mutex is given back.
func (b *Bench) publish() { b.shownMS.Store(b.plant.TimeMS()) }

// tick moves the plant by one step. The caller holds the mutex, or is alone.
func (b *Bench) tick() {
	now := b.plant.TimeMS()
	t := &b.tickSeen
	t.Events, t.Commands, t.Disturbed, t.Unfolding = t.Events[:0], t.Commands[:0], false, b.now() < b.unfolds
	for len(b.events) > 0 && b.events[0].At.Milliseconds() <= now {
		e := b.events[0]
		b.events = b.events[1:]
		if e.Action != nil {
			b.plant.Apply(e.Action)
		}
		if e.Trial != nil && e.Trial.Deed == scenarios.JumpClock {
			b.clockShift += e.Trial.By
		}
		t.Events = append(t.Events, e)
		t.Disturbed = t.Disturbed || e.Disturbs
		if e.Disturbs {
			b.unfolds = max(b.unfolds, b.now()+e.Unfolds)
		} else {
			t.Unfolding = false
		}
	}
	if now >= b.windows.nextMS {
		b.windows.at(now, t)
	}
	if now >= b.lost.nextMS {
		b.lost.at(b.now(), b.devices, t.Lost)
	}
	if b.replay != nil {
		b.replay.show(t, b.plant.Tick())
		b.replay.drain(b)
	} else {
		t.Controller = b.presence()
		t.Writes = b.takeWrites(t.Writes[:0])
		t.Requests = b.takeRequests(t.Requests[:0])
		t.Reads = b.takeReads(t.Reads[:0])
		b.drain(now)
	}
	b.plant.Step()
	b.forget()
	for _, d := range b.renewing {
		d.renew()
	}
	for _, d := range b.spoiling {
		d.spoil(b.now())
	}
	for _, see := range b.options.Observe {
		see(t)
	}
}

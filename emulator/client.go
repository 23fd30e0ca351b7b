package emulator

import (
	"errors"
	"fmt"
	"math"
	"sync"
	"time"

	"kilter/emulator/registers"
)

// Client is what a controller in the bench's own process sees of the site: the devices' registers, asked by Modbus
// requests that never leave the process and are counted, refused and lost as any others. Values have inside units
// and sign: power into a device is positive, a state of charge is 0 to 1.
//
// It is for one goroutine, except for Close.
type Client struct {
	bench      *Bench
	controller int
	lines      map[string]*line
	clock      *line
	over       chan struct{}
	end        sync.Once
	mutex      sync.Mutex // guards the lines' connections
}

// Errors of a client beside a modbus.Exception.
var (
	// ErrUnanswered says that a device gave no reply, or none that makes sense. It has cost the reply timeout.
	ErrUnanswered = errors.New("no reply")
	// ErrUnknown says that a device answered that it does not know the value.
	ErrUnknown = errors.New("the device does not know the value")
	// ErrOver says that the run or the client has ended.
	ErrOver = errors.New("the run is over")
)

// Client makes a client for the controller of that number.
func (b *Bench) Client(controller int) *Client {
	c := &Client{bench: b, controller: controller, lines: make(map[string]*line, len(b.devices)), over: make(chan struct{})}
	c.clock = &line{name: clockMap, server: b.clock.servers[controller], unit: 1, image: b.clock.images[controller], timeout: time.Second}
	for _, d := range b.devices {
		c.lines[d.name] = &line{name: d.name, server: d.servers[controller], unit: d.wire.Unit, image: d.image, timeout: d.wire.ReplyTimeout}
	}
	return c
}

// Bench is what a controller is told of the bench.
func (c *Client) Bench() File { return c.bench.FileOf(c.controller) }

// Now is the simulated time since the start.
func (c *Client) Now() time.Duration {
	return c.bench.Now()
}

// Local is the time of day at the site.
func (c *Client) Local() time.Time {
	b := c.bench
	b.mutex.Lock()
	defer b.mutex.Unlock()
	b.clock.dated = true
	return b.local()
}

// Read asks a device for a signal.
func (c *Client) Read(device string, s registers.Signal) (float64, error) {
	l, err := c.to(device)
	if err != nil {
		return math.NaN(), err
	}
	points := l.image.Shown(s)
	if len(points) == 0 {
		return math.NaN(), fmt.Errorf("%s has no %s", device, s)
	}
	sum := 0.0
	for _, p := range points {
		words, err := c.read(l, p)
		if err != nil {
			return math.NaN(), err
		}
		value, known := l.image.Decode(p, words)
		if !known {
			return math.NaN(), fmt.Errorf("%s: %s: %w", device, s, ErrUnknown)
		}
		sum += value
	}
	return sum, nil
}

// Write commands a signal of a device. Where the command counts only with an enable register, that is set
// afterwards, if it is not already.
func (c *Client) Write(device string, s registers.Signal, value float64) error {
	l, points, err := c.commanded(device, s)
	if err != nil {
		return err
	}
	for _, p := range points {
		words, err := l.image.Encode(p, value)
		if err != nil {
			return err
		}
		if err := c.write(l, p, words); err != nil {
			return err
		}
	}
	for _, p := range points {
		for _, need := range []*registers.Need{p.Also, p.Needs} {
			if err := c.alter(l, need, (*registers.Image).Meet); err != nil {
				return err
			}
		}
	}
	return nil
}

// Release takes a command away by its enable bits, so that the device does again what it does by itself. It is an
// error where the command has none: write what is neutral then.
func (c *Client) Release(device string, s registers.Signal) error {
	l, points, err := c.commanded(device, s)
	if err != nil {
		return err
	}
	for _, p := range points {
		if p.Needs == nil || !p.Needs.Ends {
			return fmt.Errorf("%s: %s has no enable bits; write what is neutral instead", device, s)
		}
		if err := c.alter(l, p.Needs, (*registers.Image).Unmeet); err != nil {
			return err
		}
	}
	return nil
}

// commanded finds the points of a command.
func (c *Client) commanded(device string, s registers.Signal) (*line, []*registers.Point, error) {
	l, err := c.to(device)
	if err != nil {
		return nil, nil, err
	}
	points := l.image.Commanded(s)
	if len(points) == 0 {
		return nil, nil, fmt.Errorf("%s cannot be commanded %s", device, s)
	}
	return l, points, nil
}

// alter changes the register that is needed, if it is not yet as it should be.
func (c *Client) alter(l *line, need *registers.Need, how func(*registers.Image, *registers.Need, []uint16) ([]uint16, bool)) error {
	if need == nil {
		return nil
	}
	p := l.image.Point(need.Point)
	words, err := c.read(l, p)
	if err != nil {
		return err
	}
	if words, changes := how(l.image, need, words); changes {
		return c.write(l, p, words)
	}
	return nil
}

// Wait lets simulated time pass. Its only error is ErrOver.
func (c *Client) Wait(d time.Duration) error {
	wait := c.clock.image.Point("wait_ms")
	for ms := d.Milliseconds(); ms > 0; {
		part := min(ms, waitBeyond) // no longer wait is sure to be let in
		words, err := c.clock.image.Encode(wait, float64(part))
		if err != nil {
			return err
		}
		if err := c.write(c.clock, wait, words); err != nil {
			c.Close()
			return ErrOver
		}
		ms -= part
	}
	return nil
}

// Close ends the client: what it waits for is given up.
func (c *Client) Close() {
	c.end.Do(func() { close(c.over) })
	c.mutex.Lock()
	defer c.mutex.Unlock()
	c.clock.hangUp()
	for _, l := range c.lines {
		l.hangUp()
	}
}

func (c *Client) closed() bool {
	select {
	case <-c.over:
		return true
	case <-c.bench.over:
		return true
	default:
		return false
	}
}

func (c *Client) to(device string) (*line, error) {
	if l := c.lines[device]; l != nil {
		return l, nil
	}
	return nil, fmt.Errorf("no device called %q on the wire", device)
}

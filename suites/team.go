package suites

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"
	"sync"
	"time"

	"kilter/emulator"
	"kilter/scenarios"
)

// all are the controllers that are put to the test together.
func (opt *Options) all() []Controller {
	return append([]Controller{opt.Controller}, opt.Beside...)
}

// names are those of several controllers; nil for one.
func (opt *Options) names() (list []string) {
	if len(opt.Beside) == 0 {
		return nil
	}
	for _, c := range opt.all() {
		list = append(list, c.Name)
	}
	return list
}

// title is how a verdict calls who was put to the test.
func (opt *Options) title() string {
	if len(opt.Beside) == 0 {
		return opt.Controller.Name
	}
	return strings.Join(opt.names(), ", ")
}

// inside says whether nobody needs a port.
func (opt *Options) inside() bool {
	for _, c := range opt.all() {
		if c.Policy == nil && !c.InLines {
			return false
		}
	}
	return true
}

// check says what keeps the controllers from playing, by themselves or together.
func (opt *Options) check(sc *scenarios.Scenario) error {
	seen := map[string]bool{}
	for _, c := range opt.all() {
		if err := c.check(); err != nil {
			return err
		}
		if (c.Policy != nil || c.InLines) && opt.Pace == emulator.Follow {
			return fmt.Errorf("the controller %s says itself when it polls next, so that there is nothing to follow: use stepped", c.Name)
		}
		if len(opt.Beside) == 0 {
			continue
		}
		switch {
		case len(c.Command) == 0 && c.Policy == nil:
			return fmt.Errorf("the controller %s: one of several must be a Command or a Policy", c.Name)
		case seen[c.Name]:
			return fmt.Errorf("two controllers are called %s: give each a name of its own", c.Name)
		}
		seen[c.Name] = true
	}
	for _, e := range sc.Events {
		if len(opt.Beside) > 0 && e.Trial != nil && e.Trial.Deed == scenarios.SecondCopy {
			return fmt.Errorf("%s starts a second copy of the controller, and there are %d controllers already: give one", sc.Source, 1+len(opt.Beside))
		}
	}
	return nil
}

// team keeps several controllers. What is done to the controller is done to the first.
type team struct {
	members []keeper
	pages   []*page // what each has printed
	log     io.Writer
	gone    chan error
	closed  chan struct{}
}

func newTeam(opt *Options) *team {
	t := &team{log: opt.Log, gone: make(chan error, 1), closed: make(chan struct{})}
	for i, c := range opt.all() {
		if c.Policy != nil {
			t.members = append(t.members, emulator.NewPerformers(c.Policy).Numbered(i))
		} else {
			p := &page{}
			t.pages = append(t.pages, p)
			t.members = append(t.members, c.process(p, opt.Limits).Numbered(i, c.Name))
		}
	}
	return t
}

// Open starts them all.
func (t *team) Open(b *emulator.Bench) error {
	for i, m := range t.members {
		if err := m.Open(b); err != nil {
			return err
		}
		go func() {
			select {
			case how := <-m.Gone():
				select {
				case t.gone <- &emulator.Exit{Controller: i, Err: how}:
				default: // another's end is still to be read
				}
			case <-t.closed:
			}
		}()
	}
	return nil
}

// Do does something to the first.
func (t *team) Do(deed scenarios.Deed) error { return t.members[0].Do(deed) }

// Collect takes in what they have printed, in their order.
func (t *team) Collect() {
	for _, m := range t.members {
		m.Collect()
	}
	t.turn()
}

// turn hands on what they have printed, one after the other.
func (t *team) turn() {
	for _, p := range t.pages {
		p.turn(t.log)
	}
}

// page keeps what a controller prints until it is its turn: which of several prints first at one instant is a race.
type page struct {
	mutex sync.Mutex
	text  bytes.Buffer
}

func (p *page) Write(text []byte) (int, error) {
	p.mutex.Lock()
	defer p.mutex.Unlock()
	return p.text.Write(text)
}

func (p *page) turn(log io.Writer) {
	p.mutex.Lock()
	defer p.mutex.Unlock()
	if log != nil {
		_, _ = log.Write(p.text.Bytes())
	}
	p.text.Reset()
}

// Gone yields the first end of one.
func (t *team) Gone() <-chan error { return t.gone }

// Close ends them all, side by side.
func (t *team) Close(leave, obey time.Duration) error {
	close(t.closed)
	ends := make(chan error, len(t.members))
	for _, m := range t.members {
		go func() { ends <- m.Close(leave, obey) }()
	}
	var errs []error
	for range t.members {
		errs = append(errs, <-ends)
	}
	t.turn()
	return errors.Join(errs...)
}

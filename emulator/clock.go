package emulator

import (
	"cmp"
	"fmt"
	"time"

	"kilter/emulator/modbus"
	"kilter/emulator/registers"
)

// clock is the bench clock unit: it tells simulated time, and answers a write to its wait
// register when that time has passed.
type clock struct {
	bench     *Bench
	layout    *registers.Map
	images    []*registers.Image // by controller, as the servers and the addresses
	servers   []*modbus.Server
	addresses []string
	dated     bool // somebody has read the date or the time of day
}

// clockMap is the name of the bench clock's built-in map.
const clockMap = "bench clock"

func newClock(b *Bench) (*clock, error) {
	m, err := registers.Builtin(clockMap)
	if err != nil {
		return nil, err
	}
	c := &clock{bench: b, layout: m}
	for range b.controllers() {
		c.images = append(c.images, registers.NewImage(m, registers.Options{}))
	}
	return c, nil
}

// firstOfDate is the first input register that tells the date or the time of day; the rest follow.
const firstOfDate = 6

// values are the clock's registers at this instant.
func (c *clock) values() *registers.Values {
	v := registers.Unknown()
	at := c.bench.local()
	v[registers.TimeMS] = float64(c.bench.plant.TimeMS())
	v[registers.UnixTime] = float64(at.Unix())
	midnight := time.Date(at.Year(), at.Month(), at.Day(), 0, 0, 0, 0, time.UTC)
	wall := time.Date(at.Year(), at.Month(), at.Day(), at.Hour(), at.Minute(), at.Second(), 0, time.UTC)
	v[registers.LocalSecondOfDay] = wall.Sub(midnight).Seconds()
	v[registers.LocalWeekday] = float64((int(at.Weekday())+6)%7 + 1)
	v[registers.WaitMS] = 0
	return &v
}

// local is the date and time of day that the bench clock tells. The caller holds the mutex.
func (b *Bench) local() time.Time {
	return b.scenario.Starts.Add(b.now() + b.clockShift).In(b.scenario.Zone)
}

// ReadRegisters tells the time.
func (c *clock) ReadRegisters(from modbus.Peer, table modbus.Table, address uint16, dst []uint16) error {
	c.bench.mutex.Lock()
	defer c.bench.mutex.Unlock()
	image := c.images[from.Controller]
	image.Refresh(c.values())
	c.dated = c.dated || table == modbus.InputRegisters && int(address)+len(dst) > firstOfDate
	return exception(image.Read(tables[table], address, dst))
}

// WriteRegisters answers when the time that was written has passed.
func (c *clock) WriteRegisters(from modbus.Peer, address uint16, values []uint16) error {
	ms := int64(-1)
	c.bench.mutex.Lock()
	err := c.images[from.Controller].Write(address, values, func(cmd registers.Command) {
		if cmd.Signal == registers.WaitMS {
			ms = int64(cmd.Value)
		}
	})
	c.bench.mutex.Unlock()
	if err != nil {
		return exception(err)
	}
	if ms < 0 {
		return nil
	}
	if err := c.admit(from.Controller, ms); err != nil {
		return err
	}
	if !c.bench.await(from, ms) {
		return modbus.ErrClose
	}
	return nil
}

// waitBeyond is how far beyond the scenario's end a wait may reach [ms]: who asks for more has most
// likely swapped the two words.
const waitBeyond = 3_600_000

// admit counts a wait, or refuses one that goes far beyond the scenario's end.
func (c *clock) admit(controller int, ms int64) error {
	b := c.bench
	b.mutex.Lock()
	defer b.mutex.Unlock()
	if b.options.Pace == Follow {
		return c.refuse(controller, "in pace follow time moves by polls, and a wait is refused")
	}
	if b.options.Endless || b.plant.TimeMS()+ms <= b.endMS+waitBeyond {
		b.present()
		t := &b.waited[controller]
		t.Waits++
		t.LongestWaitMS = max(t.LongestWaitMS, ms)
		return nil
	}
	swapped := ms>>16 | ms&0xFFFF<<16
	return c.refuse(controller, fmt.Sprintf("at %v the controller asked to wait %g s, far beyond the scenario's end, and was refused; "+
		"are the two words of wait_ms swapped? The high word comes first (the other way round it is %g s)",
		b.now(), float64(ms)/1000, float64(swapped)/1000))
}

// refuse answers a wait that cannot be. The caller holds the mutex.
func (c *clock) refuse(controller int, why string) error {
	c.images[controller].Release(registers.WaitMS)
	t := &c.bench.waited[controller]
	t.RefusedWaits++
	t.RefusedWait = cmp.Or(t.RefusedWait, why)
	return modbus.IllegalDataValue
}

// Enter lets every request through.
func (c *clock) Enter(x modbus.Exchange) error {
	c.bench.asked(0, x)
	return nil
}

// Holds says that letting a request through takes no time.
func (c *clock) Holds() bool { return false }

// record counts the exceptions that the clock answered.
func (c *clock) record(x modbus.Exchange) {
	c.bench.mutex.Lock()
	defer c.bench.mutex.Unlock()
	if c.bench.hungUp {
		return
	}
	c.bench.answered(0, x)
	if x.Exception != 0 {
		c.bench.waited[x.Peer.Controller].Exceptions++
	}
}

// ReadBits answers that there are none.
func (c *clock) ReadBits(modbus.Peer, modbus.Table, uint16, []bool) error {
	return modbus.IllegalDataAddress
}

// WriteBits answers that there are none.
func (c *clock) WriteBits(modbus.Peer, uint16, []bool) error { return modbus.IllegalDataAddress }

// Identification names the unit for function 2B/0E.
func (c *clock) Identification() []string { return []string{"kilter bench", clockMap, "1"} }

// Blocks says that a write to the wait register takes long. It does not where time moves in the goroutine of
// that very request: with one controller in stepped pace, to whom nothing else happens.
func (c *clock) Blocks(table modbus.Table, _ uint16) bool {
	return table == modbus.HoldingRegisters && !c.bench.undisturbed
}

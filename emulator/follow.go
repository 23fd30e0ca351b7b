package emulator

import (
	"time"

	"kilter/emulator/modbus"
)

// follow lets time pass before a request that begins a controller's next poll: up to one poll period after the last
// one began, or not at all where what happened since has taken longer. The caller does not hold the mutex.
func (b *Bench) follow(d *device, x modbus.Exchange) error {
	who := x.Peer.Controller
	b.mutex.Lock()
	if !b.rounds[who].begins(d, x) {
		b.mutex.Unlock()
		return nil
	}
	now := b.now()
	due := now
	if b.waited[who].Polls > 0 {
		due = max(now, b.begun[who]+b.options.Poll)
	}
	b.begun[who] = due
	b.mutex.Unlock()
	if due > now {
		if err := b.wait(x.Peer, due-now); err != nil {
			return err
		}
	}
	b.mutex.Lock()
	defer b.mutex.Unlock()
	b.waited[who].Polls++
	return nil
}

// defaultPoll is the poll period of a controller that declares none.
const defaultPoll = 10 * time.Second

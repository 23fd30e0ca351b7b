package emulator

import (
	"errors"
	"fmt"
	"slices"
	"time"

	"kilter/emulator/registers"
	"kilter/scenarios"
)

// Inject has something happen at the next step that the scenario does not tell: what makes events of the
// instant at which they begin. Whoever keeps those that it returns can write the run down as a scenario.
func (b *Bench) Inject(what func(at time.Duration) ([]scenarios.Event, error)) ([]scenarios.Event, error) {
	b.mutex.Lock()
	defer b.mutex.Unlock()
	events, err := what(b.now())
	if err != nil {
		return nil, err
	}
	for _, e := range events {
		if e.Trial != nil {
			return nil, errors.New("what happens to the controller cannot be injected: the bench did not start it")
		}
		if e.Link != nil && b.named(e.Device) == nil {
			return nil, fmt.Errorf("%s: its link cannot be sick, since it is not on the wire", e.Device)
		}
	}
	for _, e := range events {
		if e.Link != nil {
			b.sicken(b.named(e.Device), e)
		}
		// After those that the scenario has for the same instant, as when the scenario is played that tells both.
		at := slices.IndexFunc(b.events, func(x scenarios.Event) bool { return x.At > e.At })
		if at < 0 {
			at = len(b.events)
		}
		b.events = slices.Insert(b.events, at, e)
	}
	return events, nil
}

// Between calls f between two ticks, with the events that are still to come, the next one first.
func (b *Bench) Between(f func(coming []scenarios.Event)) {
	b.mutex.Lock()
	defer b.mutex.Unlock()
	f(slices.Clone(b.events))
}

// sicken lets a fault begin on a link that may have been sound throughout. The caller holds the mutex.
func (b *Bench) sicken(d *device, e scenarios.Event) {
	d.link.add(e)
	b.lost.nextMS = b.plant.TimeMS()
	if d.renews() && !slices.Contains(b.renewing, d) {
		b.renewing = append(b.renewing, d)
	}
	if len(d.link.spoils) > 0 && !slices.Contains(b.spoiling, d) {
		b.spoiling = append(b.spoiling, d)
	}
}

// named is the device of that name on the wire, or nil.
func (b *Bench) named(name string) *device {
	for _, d := range b.devices {
		if d.name == name {
			return d
		}
	}
	return nil
}

// Registers appends what the registers of a device on the wire show now, decoded.
func (b *Bench) Registers(device string, to []registers.Reading) []registers.Reading {
	b.mutex.Lock()
	defer b.mutex.Unlock()
	d := b.named(device)
	if d == nil {
		return to
	}
	d.refresh()
	return d.image.Readings(to)
}

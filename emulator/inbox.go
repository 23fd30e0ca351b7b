package emulator

import (
	"cmp"
	"math"
	"slices"

	"kilter/emulator/registers"
	"kilter/physics"
	"kilter/scenarios"
)

// Command is one command that a register write asked for, or that lapsed.
type Command struct {
	Tick       int64 // at whose beginning it took effect
	Controller int
	Device     string
	Place      int // of the device among those on the wire
	Signal     registers.Signal
	Value      float64 // inside units and sign
	Register   uint16
	Raw        uint64
	LastsS     float64 // for so many seconds, unless it is renewed; 0 is until further notice
	Timeable   bool    // the device can be told for how long
	Lapsed     bool    // nobody wrote it: an earlier command's time was over
	Forgotten  bool    // and the device itself let go of all its commands
}

// inbox holds what was written since the last tick.
type inbox struct {
	writes   []posted
	asked    []*device // those that were asked for anything
	read     []*device // those that told anything to steer by
	letters  []letter
	held     []held
	sequence int
	lapses   []lapse
}

type letter struct {
	controller, sequence int
	device               *device
	command              registers.Command
}

// lapse is the end of a command that lasts a limited time.
type lapse struct {
	atMS   int64
	device *device
	signal registers.Signal
}

// post puts a command into the inbox. The caller holds the mutex.
func (b *Bench) post(controller int, d *device, c registers.Command) {
	b.inbox.sequence++
	b.inbox.letters = append(b.inbox.letters, letter{controller, b.inbox.sequence, d, c})
}

// drain applies the inbox in the order of controller, device and sequence, then lets
// commands lapse whose time is over.
func (b *Bench) drain(now int64) {
	in := &b.inbox
	b.merge()
	if len(in.letters) > 0 {
		slices.SortFunc(in.letters, func(x, y letter) int {
			return cmp.Or(cmp.Compare(x.controller, y.controller), cmp.Compare(x.device.order, y.device.order),
				cmp.Compare(x.sequence, y.sequence))
		})
		for _, l := range in.letters {
			b.obey(l.device, l.command.Signal, l.command.Value)
			b.note(l.device, l.command, now)
			if l.device.kind == scenarios.Inverter {
				b.plant.Heard(l.device.index)
			}
			b.tickSeen.Commands = append(b.tickSeen.Commands, Command{
				Tick: b.plant.Tick(), Controller: l.controller, Device: l.device.name, Place: l.device.order,
				Signal: l.command.Signal, Value: l.command.Value, Register: l.command.Register, Raw: l.command.Raw,
				LastsS: l.command.LastsS, Timeable: l.command.Timeable,
			})
		}
		in.letters, in.sequence = in.letters[:0], 0
	}
	if len(in.lapses) == 0 {
		return
	}
	kept := in.lapses[:0]
	for _, l := range in.lapses {
		if l.atMS > now {
			kept = append(kept, l)
			continue
		}
		value := l.device.neutral(l.signal)
		l.device.image.Lapse(l.signal, func(c registers.Command) { value = c.Value })
		b.obey(l.device, l.signal, value)
		b.tickSeen.Commands = append(b.tickSeen.Commands, Command{
			Tick: b.plant.Tick(), Device: l.device.name, Place: l.device.order, Signal: l.signal, Value: value, Lapsed: true,
		})
	}
	in.lapses = kept
}

// forget takes the registers' latched values away from a device that has forgotten its commands, since nobody renewed
// them (the plant's command life).
func (b *Bench) forget() {
	for _, d := range b.devices {
		if d.kind != scenarios.Inverter {
			continue
		}
		if n := b.plant.Inverters[d.index].Forgotten; n != d.forgotten {
			d.forgotten = n
			d.image.Reset()
			in := &b.inbox
			in.lapses = slices.DeleteFunc(in.lapses, func(l lapse) bool { return l.device == d })
			b.tickSeen.Commands = append(b.tickSeen.Commands, Command{
				Tick: b.plant.Tick() - 1, Device: d.name, Place: d.order, Signal: registers.Mode, Value: registers.ModeSelfConsumption, Lapsed: true, Forgotten: true,
			})
		}
	}
}

// note remembers when a command lapses; a new one replaces an older one's time.
func (b *Bench) note(d *device, c registers.Command, now int64) {
	in := &b.inbox
	in.lapses = slices.DeleteFunc(in.lapses, func(l lapse) bool { return l.device == d && l.signal == c.Signal })
	if c.LastsS > 0 && !c.Withdrawn {
		in.lapses = append(in.lapses, lapse{now + int64(c.LastsS*1000), d, c.Signal})
	}
}

// left is how long a device's command still lasts [s]; 0 where it lasts until further notice.
func (b *Bench) left(d *device, s registers.Signal) float64 {
	for _, l := range b.inbox.lapses {
		if l.device == d && l.signal == s {
			return math.Ceil(float64(l.atMS-b.plant.TimeMS()) / 1000)
		}
	}
	return 0
}

// neutral is what a signal means when nobody commands it.
func (d *device) neutral(s registers.Signal) float64 {
	switch s {
	case registers.ChargeLimit, registers.DischargeLimit:
		return d.ratedW
	case registers.OutputLimit, registers.Connect:
		return 1
	case registers.MaxCurrent:
		return d.ratedA
	case registers.Reserve:
		return d.reserve
	}
	return 0
}

// obey hands one command to the plant. NaN stands for the neutral value.
func (b *Bench) obey(d *device, s registers.Signal, value float64) {
	if math.IsNaN(value) {
		value = d.neutral(s)
	}
	p, i := b.plant, d.index
	if d.kind == scenarios.Charger {
		if s == registers.MaxCurrent {
			p.SetChargerLimit(i, value)
		}
		return
	}
	if d.kind != scenarios.Inverter {
		return
	}
	switch s {
	case registers.Mode:
		if m, ok := modeOf(value); ok {
			p.SetMode(i, m)
		}
	case registers.Setpoint:
		p.SetSetpoint(i, value)
	case registers.ChargeLimit:
		p.SetChargeLimit(i, value)
	case registers.DischargeLimit:
		p.SetDischargeLimit(i, value)
	case registers.OutputLimit:
		p.SetOutputLimit(i, value)
	case registers.Connect:
		p.SetConnected(i, value != 0)
	case registers.Reserve:
		p.SetReserve(i, value)
	}
}

// modes pairs the registers' mode numbers with the plant's modes.
var modes = [...]struct {
	number float64
	mode   physics.Mode
}{
	{registers.ModeSelfConsumption, physics.SelfConsumption},
	{registers.ModeHold, physics.Hold},
	{registers.ModeCharge, physics.Charge},
	{registers.ModeDischarge, physics.Discharge},
	{registers.ModeStandby, physics.Standby},
	{registers.ModeSetpoint, physics.FollowSetpoint},
}

func modeOf(number float64) (physics.Mode, bool) {
	for _, m := range modes {
		if m.number == number {
			return m.mode, true
		}
	}
	return 0, false
}

func numberOf(mode physics.Mode) float64 {
	for _, m := range modes {
		if m.mode == mode {
			return m.number
		}
	}
	return registers.ModeSelfConsumption
}

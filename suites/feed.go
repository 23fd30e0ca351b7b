package suites

import (
	"kilter/emulator"
	"kilter/emulator/registers"
	"kilter/physics"
	"kilter/scenarios"
	"kilter/suites/criteria"
)

// feed makes what the bench shows of a tick into what the monitors see.
type feed struct {
	sample   criteria.Sample
	phases   *phases // nil where nobody looks at the supply's currents
	signals  []spoken
	inverter []int // by place on the wire: the inverter's index plus 1; 0 is another device
	link     []int // by inverter: its place on the wire; -1 where it has none
	grid     []int // the places of the meters by which a controller steers
}

func newFeed(sc *scenarios.Scenario) feed {
	site := &sc.Site.Plant
	f := feed{link: make([]int, len(site.Inverters))}
	f.sample.StepS = sc.Step.Seconds()
	f.sample.FuseA = site.Supply.FuseA
	f.sample.Inverters = make([]criteria.InverterSample, len(site.Inverters))
	for i := range site.Inverters {
		b := &site.Inverters[i].Battery
		f.link[i] = -1
		// The owner's reserve, whatever a controller writes.
		f.sample.Inverters[i].Reserve, f.sample.Inverters[i].CapacityWh = b.ReserveSOC, b.CapacityWh
	}
	if sc.Must.SupplyCurrent != nil || sc.Must.FuseHeating != nil {
		f.phases = newPhases(site)
		f.sample.Phases = make([]criteria.PhaseSample, site.Phases)
	}
	f.signals = spokenOf(sc)
	f.sample.Signals = make([]float64, len(sc.Site.Signals()))
	f.places(sc)
	return f
}

// places finds the devices on the wire.
func (f *feed) places(sc *scenarios.Scenario) {
	for _, d := range sc.Site.Devices {
		if d.Wire == nil {
			continue
		}
		place := len(f.inverter)
		f.inverter = append(f.inverter, 0)
		switch {
		case d.Kind == scenarios.Inverter:
			f.inverter[place], f.link[d.Index] = d.Index+1, place
		case emulator.Role(sc.Site, d) == emulator.GridRole:
			f.grid = append(f.grid, place)
		}
	}
}

// fill takes one tick. The sample is used again for the next one.
func (f *feed) fill(t *emulator.Tick) *criteria.Sample {
	p, s := t.Plant, &f.sample
	s.Tick = p.Tick()
	s.GridW, s.NetLoadW, s.GivenW = p.GridW, p.NetLoadW, p.GivenW
	s.Disturbed, s.Unfolding = t.Disturbed, t.Unfolding
	s.ImportWanted, s.ExportWanted, s.Cheap = t.ImportWanted, t.ExportWanted, t.Cheap
	s.Islanded = !p.Live()
	s.Controller = presences[t.Controller]
	s.ChargerW = 0
	for i := range p.Chargers {
		s.ChargerW += p.Chargers[i].PowerW
	}
	s.VehicleCharging = s.ChargerW > 0
	for i := range p.Inverters {
		f.fillInverter(&s.Inverters[i], &p.Inverters[i])
	}
	if len(t.Lost) > 0 {
		f.fillLosses(t.Lost)
	}
	if f.phases != nil {
		f.phases.fill(s, p)
	}
	for i := range f.signals {
		s.Signals[f.signals[i].place] = f.signals[i].value(p)
	}
	f.fillWire(t)
	return s
}

// presences are the controller's states, by the bench's.
var presences = [...]criteria.ControllerState{
	emulator.Nobody:  criteria.ControllerUnknown,
	emulator.Started: criteria.ControllerStarted,
	emulator.Present: criteria.ControllerPresent,
	emulator.Absent:  criteria.ControllerDead,
}

// modes are what an inverter was told to do, by the plant's modes.
var modes = [...]criteria.Mode{
	physics.SelfConsumption: criteria.ModeNative,
	physics.Hold:            criteria.ModeHold,
	physics.Charge:          criteria.ModeCharge,
	physics.Discharge:       criteria.ModeDischarge,
	physics.Standby:         criteria.ModeHold,
	physics.FollowSetpoint:  criteria.ModeSetpoint,
}

// fillInverter leaves alone what never changes.
func (f *feed) fillInverter(s *criteria.InverterSample, v *physics.Inverter) {
	s.ACPowerW, s.BatteryW, s.SOC = v.PowerW, v.BatteryW, v.Battery.SOC
	s.ChargeRoomW, s.DischargeRoomW = v.ChargeRoomW(), v.DischargeRoomW()
	s.ToldSOC = v.Battery.ToldSOC()
	s.Mode = modes[v.Mode]
	s.Limits = 0
	connected := v.Connected()
	if v.ChargeLimitW() < v.RatingW() {
		s.Limits |= criteria.ChargeLimited
	}
	if v.DischargeLimitW() < v.RatingW() {
		s.Limits |= criteria.DischargeLimited
	}
	s.Forced = v.ChargeLimitW() < 0 || v.DischargeLimitW() < 0
	if v.OutputLimit() < 1 {
		s.Limits |= criteria.OutputLimited
	}
	if !connected {
		s.Limits |= criteria.Disconnected
	}
	s.Away = v.Tripped || !connected || !v.OnSupply()
}

// fillLosses says from which devices no answer comes.
func (f *feed) fillLosses(lost []bool) {
	s := &f.sample
	s.MeterLost = false
	for _, place := range f.grid {
		s.MeterLost = s.MeterLost || lost[place]
	}
	for i, place := range f.link {
		s.Inverters[i].LinkLost = place >= 0 && lost[place]
	}
}

// fillWire takes over what the controller did.
func (f *feed) fillWire(t *emulator.Tick) {
	s := &f.sample
	s.Commands, s.Writes, s.Wire = s.Commands[:0], s.Writes[:0], s.Wire[:0]
	for i := range t.Commands {
		c := &t.Commands[i]
		s.Commands = append(s.Commands, criteria.CommandSample{
			Device: c.Place, Inverter: f.inverter[c.Place], Signal: c.Signal.String(), Value: c.Value, Raw: c.Raw,
			Limit: limitOf(c.Signal), LastsS: c.LastsS, Timeable: c.Timeable, Lapsed: c.Lapsed,
		})
	}
	for i := range t.Writes {
		w := &t.Writes[i]
		s.Writes = append(s.Writes, criteria.WriteSample{
			Device: w.Place, Register: w.Register, Count: uint16(len(w.Values)), Refused: w.Outcome == emulator.Refused,
		})
	}
	for i := range t.Requests {
		q := &t.Requests[i]
		s.Wire = append(s.Wire, criteria.WireSample{
			Device: q.Place, Reads: q.Reads, Writes: q.Writes, Exceptions: q.Exceptions, Illegal: q.Illegal, Forbidden: q.Forbidden,
		})
	}
}

// limitOf is the limit that a command sets, if it sets one.
func limitOf(s registers.Signal) criteria.LimitSet {
	switch s {
	case registers.ChargeLimit:
		return criteria.ChargeLimited
	case registers.DischargeLimit:
		return criteria.DischargeLimited
	case registers.OutputLimit:
		return criteria.OutputLimited
	case registers.Connect:
		return criteria.Disconnected
	}
	return 0
}

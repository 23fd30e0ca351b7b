package emulator

import (
	"math"

	"kilter/emulator/registers"
	"kilter/physics"
	"kilter/scenarios"
)

// fill writes a device's snapshot: what it shows of the plant's state at this instant, in
// inside units and sign. Measured values at the inlet stand in for those at the device's own
// terminals, since feeders have no impedance.
func (b *Bench) fill(d *device, v *registers.Values) {
	*v = registers.Unknown()
	p := b.plant
	v[registers.TimeMS] = float64(p.TimeMS())
	v[registers.UnixTime] = float64(b.scenario.Starts.Add(b.now()).Unix())
	switch d.kind {
	case scenarios.Inverter:
		b.fillInverter(d, &p.Inverters[d.index], v)
	case scenarios.Meter:
		m := &p.Meters[d.index]
		b.fillPower(m.ReadingW, m.PhaseW(), v)
		if b.hasReactive() {
			// The plant's meters do not read reactive power, and nothing would be wrong.
			v[registers.ReactivePower], v[registers.ApparentPower], v[registers.PowerFactor] = math.NaN(), math.NaN(), math.NaN()
		}
		v[registers.EnergyImported], v[registers.EnergyExported] = m.ImportedWh(), m.ExportedWh()
	case scenarios.Array:
		a := &p.Arrays[d.index]
		b.fillPower(a.PowerW, b.spread(a.PowerW, d.phases), v)
		b.fillReactive(a.PowerW, a.Reactive, v)
		v[registers.EnergyImported], v[registers.EnergyExported] = 0, a.Energy.Wh()
		v[registers.DCPower] = a.DCW
	case scenarios.Charger:
		b.fillCharger(d, &p.Chargers[d.index], v)
	case scenarios.Tariff:
		v[registers.CheapSlot], v[registers.Price] = 0, b.price()
		if inside(b.windows.cheap, p.TimeMS()) {
			v[registers.CheapSlot] = 1
		}
	}
	if v[registers.ACPower] == 0 && (d.kind == scenarios.Inverter || d.kind == scenarios.Array) {
		v[registers.PowerFactor] = -1 // nothing flows: the sign is that of generating
	}
}

func (b *Bench) fillInverter(d *device, x *physics.Inverter, v *registers.Values) {
	b.fillPower(x.PowerW, b.spread(x.PowerW, d.phases), v)
	b.fillReactive(x.PowerW, x.Reactive, v)
	v[registers.BatteryPower] = x.BatteryW
	v[registers.SOC] = x.Battery.ToldSOC()
	v[registers.SOH] = 1
	if c, has := x.Battery.TemperatureC(); has {
		v[registers.Temperature] = c
	}
	if volts, has := x.Battery.VoltageV(); has {
		v[registers.BatteryVoltage], v[registers.BatteryCurrent] = volts, x.BatteryW/volts
	}
	if d.hasPV {
		v[registers.DCPower] = x.PVW
	}
	v[registers.ReversionLeft], v[registers.OutputReversionLeft] = b.left(d, registers.Setpoint), b.left(d, registers.OutputLimit)
	v[registers.EnergyImported], v[registers.EnergyExported] = x.Imported.Wh(), x.Exported.Wh()
	v[registers.ReserveSOC] = x.ReserveSOC()
	v[registers.OperatingState] = registers.StateRunning
	switch {
	case x.Tripped:
		v[registers.OperatingState] = registers.StateFault
	case !x.Connected() || x.Mode == physics.Standby || !x.OnSupply():
		v[registers.OperatingState] = registers.StateStandby
	}
	switch {
	case v[registers.OperatingState] != registers.StateRunning:
		v[registers.ChargeState] = registers.ChargeOff
	case x.PowerW > 1:
		v[registers.ChargeState] = registers.ChargeCharging
	case x.PowerW < -1:
		v[registers.ChargeState] = registers.ChargeDischarging
	case x.ChargeRoomW() == 0:
		v[registers.ChargeState] = registers.ChargeFull
	case x.DischargeRoomW() == 0:
		v[registers.ChargeState] = registers.ChargeEmpty
	default:
		v[registers.ChargeState] = registers.ChargeHolding
	}
	v[registers.Mode] = numberOf(x.Mode)
	v[registers.Setpoint] = x.SetpointW()
	v[registers.ChargeLimit] = x.ChargeLimitW()
	v[registers.DischargeLimit] = x.DischargeLimitW()
	v[registers.OutputLimit] = x.OutputLimit()
	v[registers.Reserve] = v[registers.ReserveSOC]
	v[registers.Connect] = 0
	if x.Connected() {
		v[registers.Connect] = 1
	}
}

func (b *Bench) fillCharger(d *device, x *physics.Charger, v *registers.Values) {
	b.fillPower(x.PowerW, b.spread(x.PowerW, d.phases), v)
	v[registers.EnergyImported], v[registers.EnergyExported] = x.Energy.Wh(), 0
	v[registers.ChargerCurrent] = x.CurrentA
	v[registers.OfferedCurrent] = x.OfferedA
	v[registers.MaxCurrent] = x.CommandedA()
	v[registers.ChargerState] = float64(x.State()) // both count the states from A
}

// hasReactive tells whether anything on the site makes reactive power.
func (b *Bench) hasReactive() bool {
	site := b.plant.Site()
	for i := range site.Inverters {
		if r := site.Inverters[i].Response; r != nil && len(r.VoltVar) > 0 {
			return true
		}
	}
	for i := range site.Arrays {
		if r := site.Arrays[i].Response; r != nil && len(r.VoltVar) > 0 {
			return true
		}
	}
	return false
}

// fillReactive corrects what fillPower wrote at unity power factor.
func (b *Bench) fillReactive(w, q float64, v *registers.Values) {
	if q == 0 {
		return
	}
	v[registers.ReactivePower] = q
	s := math.Sqrt(float64(w*w) + float64(q*q)) // fenced: registers read the same on every processor
	v[registers.ApparentPower] = s
	v[registers.PowerFactor] = w / s
}

// spread divides a device's power among its conductors.
func (b *Bench) spread(w float64, ph physics.Phases) (share [3]float64) {
	switch {
	case b.plant.Site().Phases == 1:
		share[0] = w
	case ph == physics.AllPhases:
		share = [3]float64{w / 3, w / 3, w / 3}
	default:
		share[ph-physics.L1] = w
	}
	return share
}

// fillPower writes powers, and the voltages and currents that go with them at unity power factor.
func (b *Bench) fillPower(totalW float64, phaseW [3]float64, v *registers.Values) {
	v[registers.ACPower] = totalW
	v[registers.ReactivePower] = 0
	v[registers.ApparentPower] = math.Abs(totalW)
	v[registers.PowerFactor] = 1
	if totalW < 0 { // it has the sign of active power (SunSpec model 701, model_701.json)
		v[registers.PowerFactor] = -1
	}
	v[registers.Frequency] = b.plant.Supply().Hz
	v[registers.ACCurrent] = 0
	phases := b.plant.Site().Phases
	var volts [3]float64
	for i := range phases {
		volts[i] = b.plant.VoltageV(physics.L1 + physics.Phases(i))
		amps := 0.0
		if volts[i] > 0 {
			amps = phaseW[i] / volts[i]
		}
		v[registers.VoltageL1+registers.Signal(i)] = volts[i]
		v[registers.ACPowerL1+registers.Signal(i)] = phaseW[i]
		v[registers.ACCurrentL1+registers.Signal(i)] = amps
		v[registers.ACCurrent] += amps
	}
	if phases == 3 {
		for i := range 3 {
			a, c := volts[i], volts[(i+1)%3]
			// Conductors are 120 degrees apart: the law of cosines.
			v[registers.VoltageL1L2+registers.Signal(i)] = math.Sqrt(float64(a*a) + float64(c*c) + float64(a*c))
		}
	}
}

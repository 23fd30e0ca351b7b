package physics

// Commands to an inverter take effect in the next step. Heard renews the life of all of
// them (CommandLifeS). Values outside the rating are clamped as a device clamps
// them; a register map refuses what its device would refuse.

// SetMode tells inverter i what to do.
func (p *Plant) SetMode(i int, m Mode) {
	v := &p.Inverters[i]
	if m == SelfConsumption && v.Mode != SelfConsumption {
		v.WantedW = v.PowerW // the loop takes over without a bump
	}
	v.Mode = m
}

// SetSetpoint gives inverter i the AC power to follow in FollowSetpoint [W], charging positive.
func (p *Plant) SetSetpoint(i int, w float64) { p.Inverters[i].setpointW = w }

// SetChargeLimit limits the charging power of inverter i [W]; a negative limit forces at
// least that much discharging.
func (p *Plant) SetChargeLimit(i int, w float64) {
	v := &p.Inverters[i]
	v.chargeLimitW = w
	v.window()
}

// SetDischargeLimit limits the discharging power of inverter i [W]; a negative limit
// forces at least that much charging.
func (p *Plant) SetDischargeLimit(i int, w float64) {
	v := &p.Inverters[i]
	v.dischargeLimitW = w
	v.window()
}

// SetOutputLimit limits the power of inverter i in both directions to a share of its rating [1].
func (p *Plant) SetOutputLimit(i int, share float64) {
	v := &p.Inverters[i]
	v.outputLimit = min(max(share, 0), 1)
	v.window()
}

// SetConnected opens or closes the contactor of inverter i.
func (p *Plant) SetConnected(i int, on bool) { p.Inverters[i].connected = on }

// SetCommandLife sets after how many seconds without a command inverter i forgets them all;
// 0 means never.
func (p *Plant) SetCommandLife(i int, seconds float64) {
	p.Inverters[i].lifeTicks = int64(seconds*1000) / p.site.StepMS
	p.Heard(i)
}

// SetReserve sets the reserve of inverter i's battery [1].
func (p *Plant) SetReserve(i int, soc float64) {
	v := &p.Inverters[i]
	v.Battery.setReserve(min(max(soc, 0), 1))
}

// Heard renews the life of inverter i's commands: its controller has written to it.
func (p *Plant) Heard(i int) {
	v := &p.Inverters[i]
	v.forgetAtTick = 0
	if v.lifeTicks > 0 {
		v.forgetAtTick = p.tick + v.lifeTicks
	}
}

// SetChargerLimit sets the current that charger i offers at most per conductor [A].
func (p *Plant) SetChargerLimit(i int, amps float64) {
	c := &p.Chargers[i]
	c.commandedA = max(amps, 0)
	c.offer()
}

package physics

// fineBattery is what the finer model adds to a battery.
type fineBattery struct {
	cell    Cell
	hasCell bool
	node    ThermalNode
	thermal *ThermalParams
	report  ReportedSOC
	reports bool
	drainW  float64
	heatW   float64 // in the battery over the last tick [W]
}

func newFineBattery(p *BatteryParams, stepS float64) (*fineBattery, error) {
	if p.Cell == nil && p.Thermal == nil && p.Report == nil && p.StandbyW == 0 {
		return nil, nil
	}
	f := &fineBattery{drainW: p.StandbyW, thermal: p.Thermal}
	soc := p.InitialSOC
	if p.Cell != nil {
		c := *p.Cell
		c.InitialSOC = soc
		var err error
		if f.cell, err = NewCell(c, stepS); err != nil {
			return nil, err
		}
		f.hasCell = true
	}
	if t := p.Thermal; t != nil {
		if err := t.Derating.Check(); err != nil {
			return nil, err
		}
		f.node = NewThermalNode(t.CapacityJpK, t.ResistanceKpW, t.InitialC, stepS)
	}
	if p.Report != nil {
		f.report, f.reports = NewReportedSOC(*p.Report, soc, stepS), true
	}
	return f, nil
}

// ToldSOC is the state of charge that the battery tells [1].
func (b *Battery) ToldSOC() float64 {
	if b.fine != nil && b.fine.reports {
		return b.fine.report.Value
	}
	return b.SOC
}

// TemperatureC is the battery's temperature [degC], and whether the model has one.
func (b *Battery) TemperatureC() (float64, bool) {
	if b.fine == nil || b.fine.thermal == nil {
		return 0, false
	}
	return b.fine.node.TempC, true
}

// VoltageV is the pack's terminal voltage [V], and whether the model has one.
func (b *Battery) VoltageV() (float64, bool) {
	if b.fine == nil || !b.fine.hasCell {
		return 0, false
	}
	return b.fine.cell.VoltageV, true
}

// CellState is the pack's runtime state, or nil for the energy model.
func (b *Battery) CellState() *Cell {
	if b.fine == nil || !b.fine.hasCell {
		return nil
	}
	return &b.fine.cell
}

// bookFine moves one tick's mean power at the terminals [W] by the finer model.
func (b *Battery) bookFine(meanW float64) {
	f := b.fine
	if f.hasCell {
		c := &f.cell
		c.StepPower(meanW - f.drainW)
		// What the pack could not take or give is rounding, since its rooms bounded the power; the drain and that
		// are lost.
		f.heatW = c.HeatW
		b.loss.add(meanW - c.MeanW + c.HeatW)
		b.SOC = c.SOC
	} else {
		b.bookEnergy(meanW)
		f.heatW = b.lastLossW
		if f.drainW > 0 && b.SOC > 0 {
			out := min(f.drainW, b.StoredWh()/b.hours)
			b.block -= float64(out * b.hours)
			b.loss.add(out)
			b.SOC = min(max(float64((b.base+b.block)*b.perCapacity), 0), 1)
		}
	}
	if f.thermal != nil {
		f.node.Step(f.heatW, f.thermal.AmbientC)
	}
	if f.reports {
		f.report.Step(b.SOC)
	}
	b.rate()
}

// rateFine bounds the powers by the finer model.
func (b *Battery) rateFine() {
	f, p := b.fine, b.par
	if f.hasCell {
		b.chargeMax = min(p.MaxChargeW, f.cell.ChargeRoomW()+f.drainW)
		b.dischMax = 0
		if b.SOC > b.reserve {
			above := float64((b.SOC-b.reserve)*f.cell.par.CapacityAh*3600) / f.cell.h // [A] that reaches the reserve within a tick
			room := f.cell.DischargeRoomW() - f.drainW
			b.dischMax = max(0, min(p.MaxDischargeW, room, float64(above*f.cell.parallel*f.cell.series*f.cell.par.MinV)))
		}
	} else {
		b.rateEnergy()
	}
	if f.thermal != nil {
		c, d := f.thermal.Derating.Limits(f.node.TempC, p.MaxChargeW, p.MaxDischargeW)
		b.chargeMax, b.dischMax = min(b.chargeMax, c), min(b.dischMax, d)
	}
}

// JumpSOC moves what the battery tells by a step [1], as a recalibration does.
type JumpSOC struct {
	Inverter int
	By       float64
}

// Apply moves the report; a battery that tells the truth goes on doing so.
func (a JumpSOC) Apply(p *Plant) {
	if f := p.Inverters[a.Inverter].Battery.fine; f != nil && f.reports {
		f.report.Jump(a.By)
	}
}

package physics

// Battery is the runtime state of one battery, modelled by its energy.
//
//	dE/dt = ChargeEfficiency x P       while P >= 0
//	dE/dt = P / DischargeEfficiency    while P < 0
//
// P is the power at the terminals [W], charging positive; E the stored energy [Wh];
// SOC = E / CapacityWh. Near full the largest charging power falls linearly from
// TaperAboveSOC to nothing at 1, near empty the largest discharging power from
// ReserveSOC + TaperBelowSOC to nothing at ReserveSOC; so that the ends are
// reached in finite time, the tapered power is never less than a fiftieth of the
// largest. Within a tick no more flows than fills or drains what is left, so that SOC
// stays within its bounds. What is finer (a Thevenin pack, standby loss, temperature, the state of
// charge that is told) is in finebattery.go and used where BatteryParams ask for it. Not modelled: ageing.
// Source: energy bookkeeping, common practice; check values BA-02 to BA-04.
type Battery struct {
	SOC   float64 // true state of charge [1]
	base  float64 // stored energy when the block below began [Wh]
	block float64 // stored since then [Wh]
	stock Sum     // the same as base, compensated
	loss  Energy  // lost between terminals and store

	par              *BatteryParams
	maxCharge        float64 // of par [W]
	maxDischarge     float64
	chargeEff        float64
	reserve          float64 // the reserve in force [1]
	chargeMax        float64 // what it could take now [W]
	dischMax         float64 // what it could give now, positive [W]
	chargeSpan       float64 // 1/(1 - TaperAboveSOC)
	dischSpan        float64 // 1/TaperBelowSOC
	fillW            float64 // power that fills the whole capacity within one tick [W]
	drainW           float64 // power that drains the whole capacity within one tick [W]
	freeFrom, freeTo float64 // between these neither taper nor end limits the power [1]
	initialWh        float64
	perCapacity      float64
	hours            float64 // tick [h]
	perDischarge     float64 // 1/DischargeEfficiency
	lastLossW        float64 // what the last tick lost on the way into and out of store [W]
	fine             *fineBattery
}

const leastTaper = 0.02

func newBattery(p *BatteryParams, stepS float64) Battery {
	b := Battery{par: p, perCapacity: 1 / p.CapacityWh, hours: stepS / 3600, loss: newEnergy(int64(float64(stepS*1000) + 0.5))}
	b.perDischarge = 1 / p.DischargeEfficiency
	b.maxCharge, b.maxDischarge, b.chargeEff, b.reserve = p.MaxChargeW, p.MaxDischargeW, p.ChargeEfficiency, p.ReserveSOC
	b.fillW = p.CapacityWh / (p.ChargeEfficiency * b.hours)
	b.drainW = p.CapacityWh * p.DischargeEfficiency / b.hours
	if p.TaperAboveSOC > 0 && p.TaperAboveSOC < 1 {
		b.chargeSpan = 1 / (1 - p.TaperAboveSOC)
	}
	if p.TaperBelowSOC > 0 {
		b.dischSpan = 1 / p.TaperBelowSOC
	}
	b.fine, _ = newFineBattery(p, stepS) // Site.check has seen its error
	b.bound()
	b.set(p.InitialSOC)
	b.initialWh = b.StoredWh()
	return b
}

// set makes the state of charge what it is told.
func (b *Battery) set(soc float64) {
	b.base, b.block = soc*b.par.CapacityWh, 0
	b.stock = Sum{total: b.base}
	b.SOC = soc
	if c := b.CellState(); c != nil {
		c.SetSOC(soc)
	}
	b.rate()
}

// rate works out what the battery can take and give at its state of charge.
func (b *Battery) rate() {
	if b.fine != nil {
		b.rateFine()
		return
	}
	b.rateEnergy()
}

func (b *Battery) rateEnergy() {
	b.chargeMax, b.dischMax = b.maxCharge, b.maxDischarge
	if !(b.SOC > b.freeFrom && b.SOC < b.freeTo) {
		b.rateEnds()
	}
}

// rateEnds is rateEnergy near full and near empty.
func (b *Battery) rateEnds() {
	p := b.par
	if b.chargeSpan > 0 && b.SOC > p.TaperAboveSOC {
		b.chargeMax *= max(float64((1-b.SOC)*b.chargeSpan), leastTaper)
	}
	b.chargeMax = min(b.chargeMax, (1-b.SOC)*b.fillW)
	above := b.SOC - b.reserve
	if above <= 0 {
		b.dischMax = 0
		return
	}
	if b.dischSpan > 0 && above < p.TaperBelowSOC {
		b.dischMax *= max(float64(above*b.dischSpan), leastTaper)
	}
	b.dischMax = min(b.dischMax, above*b.drainW)
}

// bound works out between which states of charge neither taper nor end limits the power.
func (b *Battery) bound() {
	p := b.par
	b.freeTo = 1 - p.MaxChargeW/b.fillW
	if b.chargeSpan > 0 {
		b.freeTo = min(b.freeTo, p.TaperAboveSOC)
	}
	b.freeFrom = b.reserve + max(p.TaperBelowSOC, p.MaxDischargeW/b.drainW)
}

// setReserve sets the reserve [1].
func (b *Battery) setReserve(soc float64) {
	b.reserve = soc
	b.bound()
	b.rate()
}

// ChargeRoomW is the largest power that the battery could take now at its terminals [W], >= 0.
func (b *Battery) ChargeRoomW() float64 { return b.chargeMax }

// DischargeRoomW is the largest power that the battery could give now at its terminals [W], >= 0.
func (b *Battery) DischargeRoomW() float64 { return b.dischMax }

// StoredWh is the energy in store [Wh].
func (b *Battery) StoredWh() float64 {
	if c := b.CellState(); c != nil {
		return c.StoredJ() / 3600
	}
	return b.base + b.block
}

// LostWh is the energy lost between terminals and store since the start [Wh].
func (b *Battery) LostWh() float64 { return b.loss.Wh() }

// book moves one tick's mean power at the terminals [W] into the store.
func (b *Battery) book(meanW float64) {
	if b.fine != nil {
		b.bookFine(meanW)
		return
	}
	if meanW == 0 {
		return
	}
	b.bookEnergy(meanW)
	b.rateEnergy()
}

// bookEnergy is book of the energy model alone.
func (b *Battery) bookEnergy(meanW float64) {
	storedW := meanW * b.chargeEff
	if meanW < 0 {
		storedW = meanW * b.perDischarge
	}
	b.block += float64(storedW * b.hours)
	b.lastLossW = meanW - storedW
	b.loss.add(b.lastLossW)
	b.SOC = clamp((b.base+b.block)*b.perCapacity, 0, 1) // rounding alone can pass the ends
}

// flush books the block.
func (b *Battery) flush() {
	b.stock.add(b.block)
	b.base, b.block = b.stock.Value(), 0
	b.loss.flush()
}

package physics

import "math"

// stepFine moves an inverter of the finer model by one tick.
func (v *Inverter) stepFine(tick int64, meters []Meter, u *SupplyState) {
	if a := v.answer; a != nil && !v.Forming {
		a.step(u)
		if !a.on {
			v.openFine(tick, u.Live)
			return
		}
	}
	if v.Tripped || !v.connected || v.Mode == Standby {
		v.openFine(tick, u.Live)
		return
	}
	low, high := v.reach()
	// Rating and commands bound what must leave; the rest of the PV is throttled.
	high = min(max(high, -v.par.RatingW, min(v.lowW, 0)), v.par.RatingW)
	low = max(low, -v.par.RatingW)
	if a := v.answer; a != nil {
		low = max(low, -(v.par.RatingW * a.share))
		high = max(high, low)
	}
	want := v.want(tick, meters, low, high)
	if v.Mode == SelfConsumption {
		if w, in := v.timed(tick); in {
			want = min(max(w, v.lowW, low), v.highW, high)
		}
	}
	want = v.shape(want)
	if a := v.answer; a != nil {
		want = min(max(want+a.freq.Step(u.Hz, v.out.value), low), high)
		v.Reactive = a.varPU * v.par.RatingW
	}
	v.out.move(v.dead.shift(want))
	v.bound(low, high)
	v.finish(v.out.value, min(max(v.out.mean, low), high))
}

// timed is the power of the timed window at a tick [W], if there is one.
func (v *Inverter) timed(tick int64) (float64, bool) {
	ms := tick * v.stepMS
	for v.timedAt < len(v.par.Timed) && ms >= v.par.Timed[v.timedAt].ToMS {
		v.timedAt++
	}
	if v.timedAt == len(v.par.Timed) || ms < v.par.Timed[v.timedAt].FromMS {
		return 0, false
	}
	return v.par.Timed[v.timedAt].PowerW, true
}

// shape applies changeover, smallest power and resolution to a command [W].
func (v *Inverter) shape(want float64) float64 {
	if v.changeTicks > 0 && want != 0 {
		switch side := math.Copysign(1, want); {
		case v.side == 0 || side == v.side:
			v.side, v.restTicks = side, 0
		case v.restTicks < v.changeTicks:
			v.restTicks++
			want = 0
		default:
			v.side, v.restTicks = side, 0
		}
	}
	if math.Abs(want) < v.par.MinimumW {
		want = 0
	}
	return quantise(want, v.par.ResolutionW)
}

// finish converts the tick's AC power at the converter [W] to DC power, shares PV and moves the energies.
func (v *Inverter) finish(endW, meanW float64) {
	var battery, fromSite float64
	v.BatteryW, _, fromSite = v.share(v.conv.dc(endW), v.pvEndW)
	v.PowerW = endW + v.par.SelfConsumptionW + fromSite
	battery, v.PVW, fromSite = v.share(v.conv.dc(meanW), v.pvMeanW)
	v.MeanW = meanW + v.par.SelfConsumptionW + fromSite
	v.bookAC()
	v.PV.add(v.PVW)
	v.lost.add(v.MeanW + v.PVW - battery)
	v.Battery.book(battery)
}

// share divides a power on the converter's DC side [W, towards the battery positive] and the PV that there is [W] among battery and
// PV. An idle converter draws its losses from the battery, and from the site where the battery gives nothing.
func (v *Inverter) share(dcW, pvThereW float64) (batteryW, pvW, fromSiteW float64) {
	pvW = max(0, min(pvThereW, v.Battery.chargeMax-dcW))
	batteryW = dcW + pvW
	if batteryW < -v.Battery.dischMax {
		fromSiteW = -v.Battery.dischMax - batteryW
		batteryW = -v.Battery.dischMax
	}
	return batteryW, pvW, fromSiteW
}

func (v *Inverter) bookAC() {
	if v.MeanW >= 0 {
		v.Imported.add(v.MeanW)
	} else {
		v.Exported.add(-v.MeanW)
	}
}

// openFine keeps the contactor open for one tick; its electronics go on drawing while the grid is there.
func (v *Inverter) openFine(tick int64, live bool) {
	v.open(tick)
	if live {
		v.PowerW, v.MeanW = v.par.StandbyW, v.par.StandbyW
		v.Imported.add(v.MeanW)
		v.lost.add(v.MeanW)
	}
	v.Battery.book(0)
}

// form lets the inverter carry its island for one tick: it takes what the island leaves over, and gives what it needs. needW is
// the sum of everything else in the island [W], consumption positive. It says whether it could; if not it has
// tripped, and the island is dark.
func (v *Inverter) form(needEndW, needMeanW float64) bool {
	low, high := v.reach()
	low, high = min(low, 0), max(high, 0)
	most := v.par.RatingW
	own := v.par.SelfConsumptionW
	end, mean := -needEndW-own, -needMeanW-own
	if size := max(math.Abs(end), math.Abs(mean)); size > most {
		v.overTicks++
		if v.overTicks > v.bearTicks || size > most*(1+v.par.Backup.OverloadBy) {
			return false
		}
	} else {
		v.overTicks = 0
	}
	if min(end, mean) < low-1e-6 || max(end, mean) > high+1e-6 {
		return false
	}
	v.WantedW = end
	v.out.force(end)
	v.finish(end, mean)
	return true
}

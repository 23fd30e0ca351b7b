package trust

import (
	"kilter/physics"
	"kilter/suites/criteria"
)

// desk is where the controller sits: it reads at each poll, decides, and its
// orders take effect a link's time later.
type desk struct {
	u      tuning
	mind   controller
	plant  *physics.Plant
	seen   view
	orders []order
	told   []order
	atEnd  []bool // a battery that is full or empty, until it is clearly not
	due    int64  // when the orders take effect; -1 when none are under way
	writes []criteria.WriteSample
}

func newDesk(k *Case, p *physics.Plant) *desk {
	n := len(p.Inverters)
	d := &desk{
		u: k.tuning, mind: newController(k.Design, k.tuning, &k.Site), plant: p,
		seen: view{units: make([]unitView, n)}, orders: make([]order, n), told: make([]order, n), atEnd: make([]bool, n), due: -1,
		writes: make([]criteria.WriteSample, 0, n),
	}
	for i := range n {
		// Until the first poll an inverter that is told setpoints is held at nothing.
		rating := p.Site().Inverters[i].RatingW
		d.told[i] = order{mode: physics.FollowSetpoint, chargeW: rating, dischargeW: rating}
		if k.Design.native(i) {
			d.told[i].mode = physics.SelfConsumption
		}
		p.SetMode(i, d.told[i].mode)
	}
	return d
}

// look reads one inverter. What a full or empty battery can do for a moment is not
// worth knowing.
func (d *desk) look(i int) unitView {
	v, p := &d.plant.Inverters[i], &d.plant.Site().Inverters[i]
	u := unitView{powerW: v.PowerW, chargeRoomW: v.ChargeRoomW(), dischargeRoomW: v.DischargeRoomW(), ratingW: p.RatingW}
	const little, clearly = 0.05, 0.0005
	empty, full := v.Battery.SOC < p.Battery.ReserveSOC+clearly, v.Battery.SOC > 1-clearly
	d.atEnd[i] = (empty || full) && (d.atEnd[i] || min(u.chargeRoomW, u.dischargeRoomW) < little*p.RatingW)
	if d.atEnd[i] && empty {
		u.dischargeRoomW = 0
	}
	if d.atEnd[i] && full {
		u.chargeRoomW = 0
	}
	return u
}

// act is what happens before the step of a tick.
func (d *desk) act(tick int64) {
	d.writes = d.writes[:0]
	if due(tick, d.u.poll, d.u.phase) && tick >= d.u.phase {
		p := d.plant
		d.seen.gridW = p.Meters[0].ReadingW
		for i := range p.Inverters {
			d.seen.units[i] = d.look(i)
		}
		d.mind.decide(&d.seen, d.orders)
		d.due = tick + d.u.link
	}
	if tick != d.due {
		return
	}
	for i, o := range d.orders {
		if o == d.told[i] {
			continue
		}
		d.told[i] = o
		d.plant.SetMode(i, o.mode)
		d.plant.SetSetpoint(i, o.setW)
		d.plant.SetChargeLimit(i, o.chargeW)
		d.plant.SetDischargeLimit(i, o.dischargeW)
		d.plant.Heard(i)
		d.writes = append(d.writes, criteria.WriteSample{Device: i, Register: 1})
	}
}

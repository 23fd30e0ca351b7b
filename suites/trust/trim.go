package trust

import "kilter/physics"

// slowShare leaves the first inverter to its own meter, which makes it trim the
// grid flow, and moves each other setpoint towards its part, by room, of what the site
// needs of its batteries:
//
//	need = sum of all powers - G
//	set_i <- set_i + share (part_i need - set_i)
type slowShare struct {
	share float64
	setW  []float64
}

func (m *slowShare) decide(v *view, orders []order) {
	need, rooms := v.totalW()-v.gridW, 0.0
	for i := range v.units {
		rooms += v.units[i].roomW(need)
	}
	orders[0] = v.units[0].follow(0)
	orders[0].mode = physics.SelfConsumption
	for i := 1; i < len(v.units); i++ {
		part := 0.0
		if rooms > 0 {
			part = v.units[i].roomW(need) / rooms
		}
		want := m.setW[i] + m.share*(part*need-m.setW[i])
		m.setW[i] = min(max(want, -v.units[i].dischargeRoomW), v.units[i].chargeRoomW)
		orders[i] = v.units[i].follow(m.setW[i])
	}
}

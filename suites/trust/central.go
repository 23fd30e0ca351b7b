package trust

// centralSetpoints integrates the grid meter's reading G,
//
//	total <- total - gain G
//
// within what the inverters can do, and no faster than the slowest ramp can follow,
// so that nothing winds up. The total is shared by the room that each has.
type centralSetpoints struct {
	gain   float64
	mostW  float64 // that a poll may change
	totalW float64
}

func (m *centralSetpoints) decide(v *view, orders []order) {
	var charge, discharge float64
	for i := range v.units {
		charge, discharge = charge+v.units[i].chargeRoomW, discharge+v.units[i].dischargeRoomW
	}
	change := min(max(-m.gain*v.gridW, -m.mostW), m.mostW)
	m.totalW = min(max(m.totalW+change, -discharge), charge)
	rooms := charge
	if m.totalW < 0 {
		rooms = discharge
	}
	for i := range v.units {
		u := &v.units[i]
		orders[i] = u.follow(0)
		if rooms > 0 {
			orders[i].setW = m.totalW * u.roomW(m.totalW) / rooms
		}
	}
}

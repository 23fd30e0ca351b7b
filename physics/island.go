package physics

// islands are the parts of the site that inverters can carry while the grid is away.
//
// When the grid goes, everything is dark. After its changeover time a grid-forming inverter closes on
// its feeder and carries what is wired below it: it gives what loads need and takes what PV leaves over. PV that it
// cannot take is throttled at once, which stands for an ideal answer to a raised frequency. An overload beyond what it
// bears, or an empty battery, trips it, and its feeder is dark until the grid is back. Other inverters in the island
// rest. Not modelled: the transient of the changeover, frequency and voltage within the island.
type islands struct {
	list   []island
	supply SupplyState // what devices in an island see: nominal voltage and frequency
	away   int64       // ticks since the grid went
}

type island struct {
	inverter    int
	member      []bool // by feeder
	changeTicks int64
	carried     bool
	failed      bool
}

func newIslands(s *Site) islands {
	var all islands
	all.supply, _ = newSupplyState(&Site{StepMS: s.StepMS, Phases: s.Phases, Supply: Supply{
		VoltageV: s.Supply.VoltageV, FrequencyHz: s.Supply.FrequencyHz}})
	for i := range s.Inverters {
		b := s.Inverters[i].Backup
		if b == nil {
			continue
		}
		x := island{inverter: i, member: make([]bool, len(s.Feeders))}
		x.changeTicks, _ = s.ticks(b.ChangeoverS)
		for f := range s.Feeders { // a parent stands before its children
			x.member[f] = f == b.Feeder || f > 0 && x.member[s.Feeders[f].Parent]
		}
		all.list = append(all.list, x)
	}
	return all
}

// carrier returns the island that a feeder is carried by, or nil if it is dark.
func (all *islands) carrier(feeder int) *island {
	for i := range all.list {
		if x := &all.list[i]; x.carried && x.member[feeder] {
			return x
		}
	}
	return nil
}

// gridAway and gridBack tell the islands that the grid went and came.
func (p *Plant) gridAway() {
	p.supply.Live = false
	p.islands.away = 0
}

func (p *Plant) gridBack() {
	if p.supply.Blown {
		return
	}
	p.supply.Live = true
	for i := range p.islands.list {
		x := &p.islands.list[i]
		x.carried, x.failed = false, false
		p.Inverters[x.inverter].Forming = false
		p.Inverters[x.inverter].overTicks = 0
	}
}

// moveDark moves every device by one tick while the grid is away.
func (p *Plant) moveDark(tick, endMS int64) {
	all := &p.islands
	for i := range all.list {
		x := &all.list[i]
		v := &p.Inverters[x.inverter]
		if !x.failed && !x.carried && all.away >= x.changeTicks && !v.Tripped && v.connected && v.Mode != Standby {
			x.carried, v.Forming = true, true
			v.overTicks = 0
		}
	}
	all.away++
	for i := range p.Arrays {
		if a := &p.Arrays[i]; all.carrier(a.feeder) != nil || a.par.OnDC {
			a.step(tick, endMS, p.sky.factor, p.Meters, &all.supply)
		} else {
			a.dark(endMS, p.sky.factor, &p.supply)
		}
	}
	if p.hybrid {
		p.gatherPV()
	}
	for i := range p.Inverters {
		if v := &p.Inverters[i]; !v.Forming {
			if v.answer != nil {
				v.answer.step(&p.supply)
			}
			v.openFine(tick, false)
		} else if v.loop.nextTick == tick {
			v.loop.nextTick += v.loop.periodTicks
		}
	}
	for i := range p.Chargers {
		if c := &p.Chargers[i]; all.carrier(c.feeder) != nil {
			c.step(tick, p.Meters)
		} else {
			c.dark()
		}
	}
	for i := range p.Loads {
		if l := &p.Loads[i]; all.carrier(l.feeder) != nil {
			l.step(tick)
		} else {
			l.dark(tick)
		}
	}
	for i := range all.list {
		if x := &all.list[i]; x.carried && !p.carry(x) {
			p.drop(x, tick)
		}
	}
}

// carry lets the island's inverter make up the balance; false if it cannot.
func (p *Plant) carry(x *island) bool {
	v := &p.Inverters[x.inverter]
	end, mean, pvEnd, pvMean := 0.0, 0.0, 0.0, 0.0
	for i := range p.Loads {
		if l := &p.Loads[i]; x.member[l.feeder] {
			end += l.PowerW
			mean += l.MeanW
		}
	}
	for i := range p.Chargers {
		if c := &p.Chargers[i]; x.member[c.feeder] {
			end += c.PowerW
			mean += c.MeanW
		}
	}
	for i := range p.Arrays {
		if a := &p.Arrays[i]; x.member[a.feeder] && !a.par.OnDC {
			pvEnd += a.PowerW
			pvMean += a.MeanW
		}
	}
	_, room := v.reach()
	room = max(0, min(room, v.par.RatingW)-v.par.SelfConsumptionW)
	keepEnd, keepMean := throttled(end, pvEnd, room), throttled(mean, pvMean, room)
	if keepEnd < 1 || keepMean < 1 {
		for i := range p.Arrays {
			if a := &p.Arrays[i]; x.member[a.feeder] && !a.par.OnDC {
				a.Energy.add(float64((1 - keepMean) * a.MeanW)) // it had booked -MeanW
				a.PowerW *= keepEnd
				a.MeanW *= keepMean
			}
		}
		pvEnd *= keepEnd
		pvMean *= keepMean
	}
	return v.form(end+pvEnd, mean+pvMean)
}

// throttled is the share of a PV power (<= 0) that may stay where loads draw and the battery has room [1].
func throttled(loadW, pvW, roomW float64) float64 {
	if loadW+pvW >= -roomW || pvW == 0 {
		return 1
	}
	return (loadW + roomW) / -pvW
}

// drop makes an island dark whose inverter could not carry it, from the beginning of this tick on.
func (p *Plant) drop(x *island, tick int64) {
	x.carried, x.failed = false, true
	v := &p.Inverters[x.inverter]
	v.Forming = false
	v.openFine(tick, false)
	for i := range p.Arrays {
		if a := &p.Arrays[i]; x.member[a.feeder] && !a.par.OnDC {
			a.Energy.add(a.MeanW)
			a.PowerW, a.MeanW, a.Reactive = 0, 0, 0
		}
	}
	for i := range p.Chargers {
		if c := &p.Chargers[i]; x.member[c.feeder] {
			c.Energy.add(-c.MeanW)
			c.SessionWh -= float64(c.MeanW * c.hours)
			c.dark()
		}
	}
	for i := range p.Loads {
		if l := &p.Loads[i]; x.member[l.feeder] {
			l.Energy.add(-l.MeanW)
			l.PowerW, l.MeanW = 0, 0
		}
	}
}

package physics

import "slices"

// Plant is a site at run time. The exported slices are for reading; only
// Step, Apply and the commands change them.
type Plant struct {
	GridW    float64 // grid flow at the end of the tick [W], import positive
	NetLoadW float64 // what all devices but the battery inverters draw [W]; negative is surplus
	GivenW   float64 // the part of it that follows nobody's command: loads and PV [W]

	Inverters []Inverter
	Meters    []Meter
	Arrays    []Array
	Loads     []Load
	Chargers  []Charger

	imported, exported Energy // through the inlet

	site       Site
	nodes      []node
	unbalanced bool // some device loads one conductor alone
	reactive   bool // some device draws or gives reactive power
	hybrid     bool // some array is on the DC side of an inverter
	sky        sky
	supply     SupplyState
	islands    islands
	tick       int64
	heldMS     int64 // the time at which the sky stands still [ms]; 0 while it moves
	audit      audit
}

// New makes a plant of a site, or returns every reason why it cannot.
func New(s Site) (*Plant, error) {
	if err := s.check(); err != nil {
		return nil, err
	}
	// The plant keeps its own parameters: devices point into them, so that what a step touches stays small.
	s.Meters, s.Inverters, s.Arrays = slices.Clone(s.Meters), slices.Clone(s.Inverters), slices.Clone(s.Arrays)
	s.Loads, s.Chargers = slices.Clone(s.Loads), slices.Clone(s.Chargers)
	p := &Plant{site: s, imported: newEnergy(s.StepMS), exported: newEnergy(s.StepMS)}
	p.sky = sky{factor: 1, chance: newStream(s.Seed, "sky")}
	var err error
	if p.supply, err = newSupplyState(&p.site); err != nil {
		return nil, err
	}
	for _, f := range s.Feeders {
		p.nodes = append(p.nodes, node{parent: f.Parent, phases: float64(s.Phases)})
	}
	for i := range s.Inverters {
		x := &s.Inverters[i]
		v := newInverter(x, &s)
		p.Inverters = append(p.Inverters, v)
		p.note(x.Phases, x.Response)
	}
	for i := range s.Arrays {
		x := &s.Arrays[i]
		a := newArray(x, &p.site)
		a.DCW = a.dc(0, 1)
		if x.OnDC {
			p.hybrid = true
			p.Inverters[x.Inverter].pvEndW += a.DCW
		} else {
			a.PowerW = -a.output(0, 1)
		}
		p.Arrays = append(p.Arrays, a)
		p.note(x.Phases, x.Response)
	}
	for i := range s.Loads {
		x := &s.Loads[i]
		l := newLoad(x, &s)
		p.Loads = append(p.Loads, l)
		p.note(x.Phases, nil)
		p.reactive = p.reactive || l.perVar != 0
	}
	for i := range s.Chargers {
		x := &s.Chargers[i]
		p.Chargers = append(p.Chargers, newCharger(x, &s))
		p.note(x.Phases, nil)
	}
	if p.unbalanced || p.reactive {
		for i := range p.nodes {
			p.nodes[i].own = &conductors{}
		}
	}
	p.islands = newIslands(&s)
	p.audit.begin(p)
	p.drawAll()
	p.gather()
	p.supply.solve(p.nodes[0].ends())
	for i := range s.Meters {
		x := &s.Meters[i]
		m := newMeter(x, &s, p.unbalanced || p.reactive)
		m.node = &p.nodes[x.Feeder]
		// Every meter has been running before the start: it shows a value at once.
		var r reading
		m.sample(m.node, &r)
		m.tell(&r)
		if m.nextTick == 0 {
			m.nextTick, m.wakeTick = m.refreshTicks, m.refreshTicks
		}
		p.Meters = append(p.Meters, m)
	}
	return p, nil
}

func (p *Plant) note(ph Phases, r *ResponseParams) {
	p.unbalanced = p.unbalanced || (p.site.Phases == 3 && ph != AllPhases)
	if r != nil {
		p.supply.watched = true
		p.reactive = p.reactive || len(r.VoltVar) > 0
	}
}

// Tick is the number of steps made.
func (p *Plant) Tick() int64 { return p.tick }

// TimeMS is the simulated time since the start [ms].
func (p *Plant) TimeMS() int64 { return p.tick * p.site.StepMS }

// Site returns the parameters that the plant was made of.
func (p *Plant) Site() *Site { return &p.site }

// Apply makes an action happen now, before the next step.
func (p *Plant) Apply(a Action) { a.Apply(p) }

// Step moves the plant by one tick.
func (p *Plant) Step() {
	tick := p.tick
	endMS := (tick + 1) * p.site.StepMS
	if p.heldMS > 0 {
		endMS = p.heldMS
	} else if p.sky.busy() {
		p.sky.step(endMS)
	}
	if p.supply.backTick > 0 && tick >= p.supply.backTick {
		p.supply.backTick = 0
		p.gridBack()
	}
	if p.supply.Live {
		p.move(tick, endMS)
	} else {
		p.moveDark(tick, endMS)
		p.drawAll()
	}
	p.gather()
	if p.supply.watched {
		p.supply.solve(p.nodes[0].ends())
		p.supply.heat()
	}
	meters := p.Meters
	for i := range meters {
		m := &meters[i]
		if !m.plain {
			m.book(m.node)
		}
		if tick+1 >= m.wakeTick {
			m.step(tick+1, m.node)
		}
	}
	p.tick++
	if p.tick%blockTicks == 0 {
		p.audit.step(p)
		p.flush()
	}
}

// move moves every device by one tick while the grid is there, and draws its power.
func (p *Plant) move(tick, endMS int64) {
	p.still()
	// A slice at hand spares each turn of its loop the way through p and the check of the index: a tenth of the step.
	arrays, inverters, chargers, loads := p.Arrays, p.Inverters, p.Chargers, p.Loads
	given, charging := 0.0, 0.0
	for i := range arrays {
		a := &arrays[i]
		a.step(tick, endMS, p.sky.factor, p.Meters, &p.supply)
		if a.PowerW != 0 || a.MeanW != 0 {
			p.draw(a.feeder, a.phases, a.PowerW, a.MeanW)
			given += a.PowerW
		}
	}
	if p.hybrid {
		p.gatherPV()
	}
	for i := range inverters {
		v := &inverters[i]
		v.step(tick, p.Meters, &p.supply)
		p.draw(v.feeder, v.phases, v.PowerW, v.MeanW)
	}
	for i := range chargers {
		if c := &chargers[i]; c.Plugged || c.par.Surplus != nil {
			c.step(tick, p.Meters)
			p.draw(c.feeder, c.phases, c.PowerW, c.MeanW)
			charging += c.PowerW
		}
	}
	for i := range loads {
		l := &loads[i]
		l.step(tick)
		if l.On {
			p.draw(l.feeder, l.phases, l.PowerW, l.MeanW)
			given += l.PowerW
		}
	}
	p.GivenW, p.NetLoadW = given, given+charging
}

// gatherPV tells inverters what there is of PV on their DC side.
func (p *Plant) gatherPV() {
	for i := range p.Inverters {
		v := &p.Inverters[i]
		v.pvMeanW, v.pvEndW = v.pvEndW/2, 0
	}
	for i := range p.Arrays {
		if a := &p.Arrays[i]; a.par.OnDC {
			v := &p.Inverters[a.par.Inverter]
			v.pvEndW += a.DCW
			v.pvMeanW += float64(a.DCW / 2)
		}
	}
}

// flush books the blocks of all energies.
func (p *Plant) flush() {
	p.imported.block, p.exported.block = p.nodes[0].inW, p.nodes[0].outW
	p.imported.flush()
	p.exported.flush()
	for i := range p.Meters {
		p.Meters[i].flush()
	}
	for i := range p.nodes {
		p.nodes[i].inW, p.nodes[i].outW = 0, 0
	}
	for i := range p.Inverters {
		p.Inverters[i].flush()
	}
	for i := range p.Arrays {
		p.Arrays[i].Energy.flush()
	}
	for i := range p.Loads {
		p.Loads[i].Energy.flush()
	}
	for i := range p.Chargers {
		p.Chargers[i].Energy.flush()
	}
}

// ImportedWh and ExportedWh are the energies through the inlet since the start [Wh].
func (p *Plant) ImportedWh() float64 {
	return p.imported.booked.Value() + float64(p.nodes[0].inW*p.imported.hours)
}
func (p *Plant) ExportedWh() float64 {
	return p.exported.booked.Value() + float64(p.nodes[0].outW*p.exported.hours)
}

// FeederW is the flow into a feeder at the end of the tick [W].
func (p *Plant) FeederW(feeder int) float64 { return p.nodes[feeder].endW }

// PhaseW is the flow into a feeder in one conductor at the end of the tick [W].
func (p *Plant) PhaseW(feeder int, ph Phases) float64 {
	if ph == AllPhases {
		return p.nodes[feeder].endW
	}
	return p.nodes[feeder].phaseEnd(ph)
}

// PhasesW is the flow into a feeder in each conductor at the end of the tick [W].
func (p *Plant) PhasesW(feeder int) [3]float64 {
	w, _ := p.nodes[feeder].ends()
	return w
}

// Supply is the supply as seen from the inlet now: voltages, currents, frequency and fuse.
func (p *Plant) Supply() *SupplyState {
	if !p.supply.watched {
		p.supply.solve(p.nodes[0].ends())
	}
	return &p.supply
}

// Live says whether the grid is there.
func (p *Plant) Live() bool { return p.supply.Live }

// VoltageV is the phase voltage at the inlet now [V].
func (p *Plant) VoltageV(ph Phases) float64 { return p.Supply().VoltsV[max(ph, L1)-L1] }

// SkyFactor is what the clouds of the story leave of the irradiance [1].
func (p *Plant) SkyFactor() float64 { return p.sky.factor }

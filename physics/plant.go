package physics

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

	// Imported and Exported are the energies through the inlet.
	Imported, Exported Energy

	site       Site
	nodes      []node
	unbalanced bool // some device of a three-phase site loads one conductor alone
	sky        sky
	tick       int64
	audit      audit
}

// node is one feeder at run time: what flows through its inlet.
type node struct {
	parent        int
	endW, meanW   float64    // all conductors together [W]
	endOwn, mnOwn [3]float64 // the part of devices on one conductor alone [W]
	phases        float64    // conductors of the site
	blockW        float64    // sum of meanW since the last booking [W x ticks]
}

// phaseEnd returns the flow in one conductor at the end of the tick [W].
func (n *node) phaseEnd(p Phases) float64 { return share(n.endW, &n.endOwn, n.phases, p) }

// phaseMean returns the mean flow in one conductor [W].
func (n *node) phaseMean(p Phases) float64 { return share(n.meanW, &n.mnOwn, n.phases, p) }

func share(total float64, own *[3]float64, phases float64, p Phases) float64 {
	if phases == 1 {
		return total
	}
	return (total-own[0]-own[1]-own[2])/3 + own[p-L1]
}

// New makes a plant of a site, or returns every reason why it cannot.
func New(s Site) (*Plant, error) {
	if err := s.check(); err != nil {
		return nil, err
	}
	p := &Plant{site: s, Imported: newEnergy(s.StepMS), Exported: newEnergy(s.StepMS)}
	p.sky = sky{factor: 1, chance: newStream(s.Seed, "sky")}
	for _, f := range s.Feeders {
		p.nodes = append(p.nodes, node{parent: f.Parent, phases: float64(s.Phases)})
	}
	for _, x := range s.Inverters {
		p.Inverters = append(p.Inverters, newInverter(x, &s))
		p.note(x.Phases)
	}
	for _, x := range s.Arrays {
		a := newArray(x, &p.site)
		a.PowerW = -a.output(0, 1)
		p.Arrays = append(p.Arrays, a)
		p.note(x.Phases)
	}
	for _, x := range s.Loads {
		p.Loads = append(p.Loads, newLoad(x, &s))
		p.note(x.Phases)
	}
	for _, x := range s.Chargers {
		p.Chargers = append(p.Chargers, newCharger(x, &s))
		p.note(x.Phases)
	}
	p.audit.begin(p)
	p.flows()
	for _, x := range s.Meters {
		m := newMeter(x, &s)
		// Every meter has been running before the start: it shows a value at once.
		r := m.sample(&p.nodes[x.Feeder], s.Phases)
		m.tell(&r)
		if m.nextTick == 0 {
			m.nextTick = m.refreshTicks
		}
		p.Meters = append(p.Meters, m)
	}
	return p, nil
}

func (p *Plant) note(ph Phases) {
	p.unbalanced = p.unbalanced || (p.site.Phases == 3 && ph != AllPhases)
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
	for i := range p.Inverters {
		p.Inverters[i].step(tick, p.Meters)
	}
	for i := range p.Chargers {
		p.Chargers[i].step()
	}
	for i := range p.Loads {
		p.Loads[i].step(tick)
	}
	p.sky.step(endMS)
	for i := range p.Arrays {
		p.Arrays[i].step(endMS, p.sky.factor)
	}
	p.flows()
	for i := range p.Meters {
		m := &p.Meters[i]
		n := &p.nodes[m.par.Feeder]
		m.book(n)
		m.step(tick+1, n, p.site.Phases)
	}
	if w := p.nodes[0].meanW; w >= 0 {
		p.Imported.add(w)
	} else {
		p.Exported.add(-w)
	}
	p.tick++
	if p.tick%blockTicks == 0 {
		p.audit.step(p)
		p.flush()
	}
}

// flush books the blocks of all energies.
func (p *Plant) flush() {
	p.Imported.flush()
	p.Exported.flush()
	for i := range p.nodes {
		p.nodes[i].blockW = 0
	}
	for i := range p.Inverters {
		p.Inverters[i].flush()
	}
	for i := range p.Meters {
		p.Meters[i].Imported.flush()
		p.Meters[i].Exported.flush()
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

// flows sums the devices into the feeders, and the feeders towards the supply.
func (p *Plant) flows() {
	for i := range p.nodes {
		n := &p.nodes[i]
		n.endW, n.meanW = 0, 0
		if p.unbalanced {
			n.endOwn, n.mnOwn = [3]float64{}, [3]float64{}
		}
	}
	batteries, given, chargers := 0.0, 0.0, 0.0
	for i := range p.Inverters {
		d := &p.Inverters[i]
		p.draw(d.feeder, d.phases, d.PowerW, d.MeanW)
		batteries += d.PowerW
	}
	for i := range p.Chargers {
		d := &p.Chargers[i]
		p.draw(d.feeder, d.phases, d.PowerW, d.MeanW)
		chargers += d.PowerW
	}
	for i := range p.Loads {
		d := &p.Loads[i]
		p.draw(d.feeder, d.phases, d.PowerW, d.MeanW)
		given += d.PowerW
	}
	for i := range p.Arrays {
		d := &p.Arrays[i]
		p.draw(d.feeder, d.phases, d.PowerW, d.MeanW)
		given += d.PowerW
	}
	for i := len(p.nodes) - 1; i > 0; i-- {
		n := &p.nodes[i]
		up := &p.nodes[n.parent]
		up.endW += n.endW
		up.meanW += n.meanW
		n.blockW += n.meanW
		if p.unbalanced {
			for k := range n.endOwn {
				up.endOwn[k] += n.endOwn[k]
				up.mnOwn[k] += n.mnOwn[k]
			}
		}
	}
	p.nodes[0].blockW += p.nodes[0].meanW
	p.GridW = p.nodes[0].endW
	p.GivenW = given
	p.NetLoadW = given + chargers
}

// draw adds one device's power to its feeder.
func (p *Plant) draw(feeder int, ph Phases, endW, meanW float64) {
	n := &p.nodes[feeder]
	n.endW += endW
	n.meanW += meanW
	if p.unbalanced && ph != AllPhases {
		n.endOwn[ph-L1] += endW
		n.mnOwn[ph-L1] += meanW
	}
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

// VoltageV is the phase voltage at the inlet now [V], with all devices at unity
// power factor.
func (p *Plant) VoltageV(ph Phases) float64 {
	s := &p.site.Supply
	return VoltageAtInlet(s.VoltageV, s.ResistanceOhm, s.ReactanceOhm, p.nodes[0].phaseEnd(ph), 0)
}

// SkyFactor is what the clouds of the story leave of the irradiance [1].
func (p *Plant) SkyFactor() float64 { return p.sky.factor }

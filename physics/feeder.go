package physics

// node is one feeder at run time: what flows through its inlet.
type node struct {
	parent        int
	endW, meanW   float64    // all conductors together [W]
	endOwn, mnOwn [3]float64 // the part of devices on one conductor alone [W]
	endVar        float64    // reactive power at the end of the tick [var]
	ownVar        [3]float64 // the part of devices on one conductor alone [var]
	phases        float64    // conductors of the site
	blockW        float64    // sum of meanW since the last booking [W x ticks]
}

// phaseEnd returns the flow in one conductor at the end of the tick [W].
func (n *node) phaseEnd(p Phases) float64 { return share(n.endW, &n.endOwn, n.phases, p) }

// phaseMean returns the mean flow in one conductor [W].
func (n *node) phaseMean(p Phases) float64 { return share(n.meanW, &n.mnOwn, n.phases, p) }

// ends returns active [W] and reactive power [var] per conductor at the end of the tick.
func (n *node) ends() (w, q [3]float64) {
	return spread(n.endW, &n.endOwn, n.phases), spread(n.endVar, &n.ownVar, n.phases)
}

// means returns the mean active power per conductor [W], and the reactive power at the tick's end [var].
func (n *node) means() (w, q [3]float64) {
	return spread(n.meanW, &n.mnOwn, n.phases), spread(n.endVar, &n.ownVar, n.phases)
}

func spread(total float64, own *[3]float64, phases float64) (out [3]float64) {
	if phases == 1 {
		out[0] = total
		return out
	}
	common := (total - own[0] - own[1] - own[2]) / 3
	for k := range out {
		out[k] = common + own[k]
	}
	return out
}

func share(total float64, own *[3]float64, phases float64, p Phases) float64 {
	if phases == 1 {
		return total
	}
	return (total-own[0]-own[1]-own[2])/3 + own[p-L1]
}

// flows sums the devices into the feeders, and the feeders towards the supply.
func (p *Plant) flows() {
	for i := range p.nodes {
		n := &p.nodes[i]
		n.endW, n.meanW = 0, 0
		if p.unbalanced {
			n.endOwn, n.mnOwn = [3]float64{}, [3]float64{}
		}
		if p.reactive {
			n.endVar, n.ownVar = 0, [3]float64{}
		}
	}
	given, chargers := 0.0, 0.0
	for i := range p.Inverters {
		d := &p.Inverters[i]
		p.draw(d.feeder, d.phases, d.PowerW, d.MeanW)
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
	if p.reactive {
		p.drawReactive()
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
		if p.reactive {
			up.endVar += n.endVar
			for k := range n.ownVar {
				up.ownVar[k] += n.ownVar[k]
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

// drawReactive adds the devices' reactive powers to their feeders.
func (p *Plant) drawReactive() {
	add := func(feeder int, ph Phases, q float64) {
		n := &p.nodes[feeder]
		n.endVar += float64(q)
		if ph != AllPhases {
			n.ownVar[ph-L1] += float64(q)
		}
	}
	for i := range p.Inverters {
		add(p.Inverters[i].feeder, p.Inverters[i].phases, p.Inverters[i].Reactive)
	}
	for i := range p.Arrays {
		add(p.Arrays[i].feeder, p.Arrays[i].phases, p.Arrays[i].Reactive)
	}
	for i := range p.Loads {
		add(p.Loads[i].feeder, p.Loads[i].phases, p.Loads[i].ReactiveVar())
	}
}

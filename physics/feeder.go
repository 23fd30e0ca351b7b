package physics

// node is one feeder at run time: what flows through its inlet.
type node struct {
	endW, meanW float64 // all conductors together [W]
	inW, outW   float64 // sums of meanW in and out since the last booking [W x ticks]
	parent      int
	phases      float64     // conductors of the site
	own         *conductors // nil where every device shares its power equally among the conductors, at unity power factor
}

// conductors is the part of a feeder's flow that is not equal in all its conductors, and its reactive power.
type conductors struct {
	endW, meanW [3]float64 // of devices on one conductor alone [W]
	endVar      float64    // reactive power of all at the end of the tick [var]
	ownVar      [3]float64 // of devices on one conductor alone [var]
}

// phaseEnd returns the flow in one conductor at the end of the tick [W].
func (n *node) phaseEnd(p Phases) float64 {
	w, _ := n.ends()
	return w[p-L1]
}

// ends returns active [W] and reactive power [var] per conductor at the end of the tick.
func (n *node) ends() (w, q [3]float64) {
	if n.own == nil {
		return n.equal(n.endW), q
	}
	return n.spread(n.endW, &n.own.endW), n.spread(n.own.endVar, &n.own.ownVar)
}

// means returns the mean active power per conductor [W], and the reactive power at the tick's end [var].
func (n *node) means() (w, q [3]float64) {
	if n.own == nil {
		return n.equal(n.meanW), q
	}
	return n.spread(n.meanW, &n.own.meanW), n.spread(n.own.endVar, &n.own.ownVar)
}

func (n *node) equal(total float64) [3]float64 {
	if n.phases == 1 {
		return [3]float64{total}
	}
	return [3]float64{total / 3, total / 3, total / 3}
}

func (n *node) spread(total float64, own *[3]float64) [3]float64 {
	if n.phases == 1 {
		return [3]float64{total}
	}
	common := (total - own[0] - own[1] - own[2]) / 3
	return [3]float64{common + own[0], common + own[1], common + own[2]}
}

// still empties the feeders, for a new tick.
func (p *Plant) still() {
	for i := range p.nodes {
		n := &p.nodes[i]
		n.endW, n.meanW = 0, 0
		if n.own != nil {
			*n.own = conductors{}
		}
	}
}

// drawAll draws the powers of all devices as they stand.
func (p *Plant) drawAll() {
	p.still()
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
	p.GivenW, p.NetLoadW = given, given+chargers
}

// gather sums the feeders towards the supply.
func (p *Plant) gather() {
	if p.reactive {
		p.drawReactive()
	}
	for i := len(p.nodes) - 1; i > 0; i-- {
		n := &p.nodes[i]
		end, mean := n.endW, n.meanW
		up := &p.nodes[n.parent]
		up.endW += end
		up.meanW += mean
		n.count(mean)
		if n.own != nil {
			up.own.add(n.own)
		}
	}
	p.nodes[0].count(p.nodes[0].meanW)
	p.GridW = p.nodes[0].endW
}

// count sums what flows in and out.
func (n *node) count(meanW float64) {
	if meanW >= 0 {
		n.inW += meanW
	} else {
		n.outW -= meanW
	}
}

// draw adds one device's power to its feeder.
func (p *Plant) draw(feeder int, ph Phases, endW, meanW float64) {
	n := &p.nodes[feeder]
	n.endW += endW
	n.meanW += meanW
	if n.own != nil && ph != AllPhases {
		n.own.endW[ph-L1] += endW
		n.own.meanW[ph-L1] += meanW
	}
}

func (c *conductors) add(d *conductors) {
	for k := range c.endW {
		c.endW[k] += d.endW[k]
		c.meanW[k] += d.meanW[k]
		c.ownVar[k] += d.ownVar[k]
	}
	c.endVar += d.endVar
}

// drawReactive adds the devices' reactive powers to their feeders.
func (p *Plant) drawReactive() {
	add := func(feeder int, ph Phases, q float64) {
		own := p.nodes[feeder].own
		own.endVar += float64(q)
		if ph != AllPhases {
			own.ownVar[ph-L1] += float64(q)
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

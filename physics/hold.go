package physics

// HoldGiven holds what follows nobody's command as it stands at this instant, for the rest of the run: loads draw what
// they draw, the sun stands still and clouds do not move. What responds goes on to do so: inverters, chargers, and PV
// that answers voltage or a meter. It shows what the batteries do by themselves.
type HoldGiven struct{}

// Apply stops the loads' own ways and the sky.
func (HoldGiven) Apply(p *Plant) {
	for i := range p.Loads {
		l := &p.Loads[i]
		l.kind, l.fullW = ConstantLoad, l.PowerW
	}
	p.heldMS = max(p.TimeMS(), 1)
}

package physics

import "math"

// Audit is the bench's check of itself: what the plant's bookkeeping is out of balance.
type Audit struct {
	WorstNodeW       float64 // largest imbalance of any feeder, as a mean over at most 64 ticks [W]
	WorstAtTick      int64   // the end of those ticks
	EnergyResidualWh float64 // energy that came from nowhere or went nowhere since the start [Wh]
}

// What the residuals of a sound bench stay under: they are rounding and nothing else where
// flows are kilowatts and a day is hundreds of kilowatthours.
const (
	AuditLimitW  = 1e-6 // at any node in any tick [W]
	AuditLimitWh = 1e-3 // over a run [Wh]
)

// Ok says whether the books balance.
func (a Audit) Ok() bool {
	return a.WorstNodeW < AuditLimitW && math.Abs(a.EnergyResidualWh) < AuditLimitWh
}

// audit sums every device into every feeder above it, device by device, from what the devices
// have booked. Plant.flows sums power into the feeders feeder by feeder; that both agree is the node
// balance. Every tick is in it; it is looked at once a block.
type audit struct {
	nodes  []float64
	worstW float64
	atTick int64
	offset float64 // energy put in by hand (SetSOC) [Wh]
}

func (a *audit) begin(p *Plant) { a.nodes = make([]float64, len(p.nodes)) }

func (a *audit) climb(p *Plant, feeder int, w float64) {
	for f := feeder; f >= 0; f = p.nodes[f].parent {
		a.nodes[f] += w
	}
}

// step looks at the block that ends now, before it is booked.
func (a *audit) step(p *Plant) {
	for i := range a.nodes {
		a.nodes[i] = p.nodes[i].outW - p.nodes[i].inW
	}
	for i := range p.Arrays {
		a.climb(p, p.Arrays[i].feeder, -p.Arrays[i].Energy.block)
	}
	for i := range p.Loads {
		a.climb(p, p.Loads[i].feeder, p.Loads[i].Energy.block)
	}
	for i := range p.Chargers {
		a.climb(p, p.Chargers[i].feeder, p.Chargers[i].Energy.block)
	}
	for i := range p.Inverters {
		v := &p.Inverters[i]
		a.climb(p, v.feeder, v.Imported.block-v.Exported.block)
	}
	for _, w := range a.nodes {
		if w = math.Abs(w) / blockTicks; !(w <= a.worstW) { // catches NaN too
			a.worstW, a.atTick = w, p.tick
		}
	}
}

// Audit returns the state of the books now.
//
// Energy in through the inlet, from PV and from the batteries' stores must equal energy out
// through the inlet, into loads, vehicles and stores, and lost in conversion:
//
//	imported - exported + PV = loads + vehicles + sum over batteries of (stored - stored at the start + losses)
func (p *Plant) Audit() Audit {
	p.audit.step(p)
	r := p.ImportedWh() - p.ExportedWh()
	for i := range p.Arrays {
		r += p.Arrays[i].Energy.Wh()
	}
	for i := range p.Loads {
		r -= p.Loads[i].Energy.Wh()
	}
	for i := range p.Chargers {
		r -= p.Chargers[i].Energy.Wh()
	}
	for i := range p.Inverters {
		v := &p.Inverters[i]
		v.lose()
		r += v.PV.Wh()
		r -= v.Battery.StoredWh() - v.Battery.initialWh + v.Battery.LostWh() + v.lost.Wh()
	}
	return Audit{WorstNodeW: p.audit.worstW, WorstAtTick: p.audit.atTick, EnergyResidualWh: r + p.audit.offset}
}

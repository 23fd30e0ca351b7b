package physics

import "math"

// Audit is the bench's check of itself: what the plant's bookkeeping is out of balance.
type Audit struct {
	WorstNodeW       float64 // largest imbalance of any feeder in any tick [W]
	WorstAtTick      int64   // when that was
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

// audit sums every device into every feeder above it, device by device. Plant.flows sums
// feeder by feeder; that both agree in every tick is the node balance.
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

func (a *audit) step(p *Plant) {
	for i := range a.nodes {
		a.nodes[i] = -p.nodes[i].meanW
	}
	for i := range p.Arrays {
		a.climb(p, p.Arrays[i].feeder, p.Arrays[i].MeanW)
	}
	for i := range p.Loads {
		a.climb(p, p.Loads[i].feeder, p.Loads[i].MeanW)
	}
	for i := range p.Chargers {
		a.climb(p, p.Chargers[i].feeder, p.Chargers[i].MeanW)
	}
	for i := range p.Inverters {
		a.climb(p, p.Inverters[i].feeder, p.Inverters[i].MeanW)
	}
	for _, w := range a.nodes {
		if w = math.Abs(w); !(w <= a.worstW) { // catches NaN too
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
	r := p.ImportedWh.Value() - p.ExportedWh.Value()
	for i := range p.Arrays {
		r += p.Arrays[i].EnergyWh.Value()
	}
	for i := range p.Loads {
		r -= p.Loads[i].EnergyWh.Value()
	}
	for i := range p.Chargers {
		r -= p.Chargers[i].EnergyWh.Value()
	}
	for i := range p.Inverters {
		v := &p.Inverters[i]
		r -= v.Battery.StoredWh() - v.Battery.initialWh + v.Battery.LostWh() + v.lossWh.Value()
	}
	return Audit{WorstNodeW: p.audit.worstW, WorstAtTick: p.audit.atTick, EnergyResidualWh: r + p.audit.offset}
}

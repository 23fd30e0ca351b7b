package physics

import (
	"fmt"
	"math"
)

// CellParams describes a battery pack of equal cells as one Thevenin equivalent.
type CellParams struct {
	OCV        Curve   // open-circuit voltage of a cell [V] over its state of charge [1], rising
	CapacityAh float64 // charge between SOC 0 and 1 of a cell [Ah]
	R0Ohm      float64 // series resistance of a cell [ohm], > 0
	R1Ohm      float64 // resistance of the R1 C1 branch [ohm]; 0 means no branch
	C1F        float64 // its capacitance [F]
	MaxV, MinV float64 // terminal voltage that charging and discharging keep to [V per cell]
	MaxChargeA float64 // largest charging current [A per cell], > 0
	MaxDischA  float64 // largest discharging current [A per cell], > 0
	CutoffA    float64 // charging ends when the voltage limit leaves less than this [A per cell]
	Series     int     // cells in series; 0 means 1
	Parallel   int     // strings in parallel; 0 means 1
	InitialSOC float64 // [1]
}

func (p *CellParams) check() error {
	if err := p.OCV.Check(); err != nil {
		return fmt.Errorf("open-circuit voltage: %w", err)
	}
	for i, q := range p.OCV {
		if i > 0 && (q.X <= p.OCV[i-1].X || q.Y < p.OCV[i-1].Y) {
			return fmt.Errorf("open-circuit voltage: point %d is (%g, %g) after (%g, %g); it must rise with the state of charge",
				i+1, q.X, q.Y, p.OCV[i-1].X, p.OCV[i-1].Y)
		}
	}
	for _, x := range []struct {
		name  string
		value float64
	}{
		{"capacity [Ah]", p.CapacityAh}, {"R0 [ohm]", p.R0Ohm}, {"voltage at state of charge 0 [V]", p.OCV.At(0)},
		{"largest charging current [A]", p.MaxChargeA}, {"largest discharging current [A]", p.MaxDischA},
		{"room between the voltage limits [V]", p.MaxV - p.MinV},
	} {
		if !(x.value > 0) || math.IsInf(x.value, 0) {
			return fmt.Errorf("%s is %g; it must be more than 0", x.name, x.value)
		}
	}
	switch {
	case !(p.R1Ohm >= 0) || p.R1Ohm > 0 && !(p.C1F > 0):
		return fmt.Errorf("the branch has R1 %g ohm and C1 %g F; both must be more than 0, or R1 be 0", p.R1Ohm, p.C1F)
	case !(p.InitialSOC >= 0 && p.InitialSOC <= 1):
		return fmt.Errorf("initial state of charge is %g; it must be between 0 and 1", p.InitialSOC)
	case p.Series < 0 || p.Parallel < 0:
		return fmt.Errorf("the pack has %d cells in series and %d strings; neither may be negative", p.Series, p.Parallel)
	}
	return nil
}

// Cell is the runtime state of a pack of equal cells, each of them
//
//	v    = OCV(SOC) + I R0 + v1
//	v1'  = (I R1 - v1) / (R1 C1)
//	SOC' = I / (3600 CapacityAh)
//
// with I charging positive [A]. Over a tick the current is constant, and everything is
// solved exactly: v1 by its exponential, the energies in closed form, so that what enters at the
// terminals is what is stored (in SOC and in C1) plus the two heats, to rounding. The pack's voltage is
// Series, its current Parallel, its power and energies Series x Parallel times the cell's.
// Not modelled: charge efficiency under 1, hysteresis, dependence on
// temperature and age, cells that differ. Source: Thevenin equivalent, common practice; check
// values BA-20 to BA-30 (pulse and heat) and BA-40 to BA-44 (limits).
type Cell struct {
	SOC      float64 // [1]
	BranchV  float64 // v1 [V per cell]
	CurrentA float64 // of the pack over the last tick [A]
	VoltageV float64 // of the pack at the end of the last tick, under its current [V]
	HeatW    float64 // in the pack's resistances, mean over the last tick [W]
	MeanW    float64 // of the pack at its terminals, mean over the last tick [W]
	Full     bool    // charging has come to CutoffA, and nothing has been discharged since

	// Energies of the pack since the start [J]: in at the terminals, and the heats in R0 and R1.
	TerminalJ, R0HeatJ, R1HeatJ Sum

	par      CellParams
	charge   Sum     // SOC with what its rounding leaves out
	h        float64 // tick [s]
	decay    float64 // e^(-h/(R1 C1)); 0 without a branch
	lag      float64 // tau (1 - decay) [s]
	perAmp   float64 // change of SOC per ampere in a tick [1/A]
	series   float64
	parallel float64
}

// NewCell makes a pack at rest, to be stepped by ticks of stepS [s].
func NewCell(p CellParams, stepS float64) (Cell, error) {
	if err := p.check(); err != nil {
		return Cell{}, err
	}
	c := Cell{SOC: p.InitialSOC, par: p, h: stepS, charge: Sum{total: p.InitialSOC}}
	if p.R1Ohm > 0 {
		tau := p.R1Ohm * p.C1F
		c.decay = exp(-stepS / tau)
		c.lag = tau * (1 - c.decay)
	}
	c.perAmp = stepS / (3600 * p.CapacityAh)
	c.series, c.parallel = float64(max(p.Series, 1)), float64(max(p.Parallel, 1))
	c.VoltageV = c.series * (p.OCV.At(c.SOC) + c.BranchV)
	return c, nil
}

// Step lets a constant current of the pack [A] flow for one tick, charging positive. It does not limit the
// current (the limits below do), except that SOC stays within 0 and 1: what would pass an end does not flow.
func (c *Cell) Step(packA float64) {
	p := &c.par
	i := packA / c.parallel
	i = min(max(i, -c.SOC/c.perAmp), (1-c.SOC)/c.perAmp)
	was := c.SOC
	c.charge.add(float64(i * c.perAmp))
	c.SOC = min(max(c.charge.Value(), 0), 1) // rounding alone can pass the ends
	if i < 0 {
		c.Full = false
	}
	// Energies of one cell over the tick [J]. The charge's is the integral of OCV dq along the way
	// that SOC went.
	charge := float64(3600 * p.CapacityAh * p.OCV.Integral(was, c.SOC))
	r0 := float64(i * i * p.R0Ohm * c.h)
	branch, r1 := 0.0, 0.0
	if p.R1Ohm > 0 {
		end := float64(i * p.R1Ohm)
		off := c.BranchV - end
		// v1 = end + off e^(-t/tau); its integral, and that of its square.
		area := float64(end*c.h) + float64(off*c.lag)
		square := float64(end*end*c.h) + float64(2*end*off*c.lag) + float64(off*off*c.lag*(1+c.decay)/2)
		branch, r1 = float64(i*area), square/p.R1Ohm
		c.BranchV = end + float64(off*c.decay)
	}
	cells := c.series * c.parallel
	terminal := charge + r0 + branch
	c.TerminalJ.add(float64(cells * terminal))
	c.R0HeatJ.add(float64(cells * r0))
	c.R1HeatJ.add(float64(cells * r1))
	c.CurrentA = i * c.parallel
	c.MeanW = cells * terminal / c.h
	c.HeatW = cells * (r0 + r1) / c.h
	c.VoltageV = c.series * (p.OCV.At(c.SOC) + float64(i*p.R0Ohm) + c.BranchV)
	if i > 0 && c.chargeLimit() == 0 {
		c.Full = true
	}
}

// SetSOC makes the state of charge [1] what it is told, as a story's jump does; the energy books do
// not know of it.
func (c *Cell) SetSOC(soc float64) {
	c.SOC = min(max(soc, 0), 1)
	c.charge = Sum{total: c.SOC}
	c.Full = false
	c.VoltageV = c.series * (c.par.OCV.At(c.SOC) + c.BranchV)
}

// HeatJ is the heat in both resistances since the start [J].
func (c *Cell) HeatJ() float64 { return c.R0HeatJ.Value() + c.R1HeatJ.Value() }

// StoredJ is the energy of the pack in its charge and in C1, counted from SOC 0 and v1 = 0 [J]. Its
// change since the start is TerminalJ less HeatJ.
func (c *Cell) StoredJ() float64 {
	p := &c.par
	perCell := float64(3600*p.CapacityAh*p.OCV.Integral(0, c.SOC)) + float64(p.C1F*c.BranchV*c.BranchV/2)
	return c.series * c.parallel * perCell
}

// slope is that of OCV over SOC on the side to which a current goes [V].
func (c *Cell) slope(charging bool) float64 {
	if charging {
		return c.par.OCV.SlopeAfter(c.SOC)
	}
	return c.par.OCV.SlopeBefore(c.SOC)
}

// ChargeLimitA is the largest charging current of the pack [A] for the next tick, >= 0: the
// constant current MaxChargeA, less where the voltage at the tick's end would pass MaxV (constant
// voltage), and nothing where that leaves less than CutoffA, or once Full.
func (c *Cell) ChargeLimitA() float64 { return c.chargeLimit() * c.parallel }

func (c *Cell) chargeLimit() float64 {
	p := &c.par
	if c.Full {
		return 0
	}
	// At the end of the tick v = OCV + slope I perAmp + I R0 + v1 decay + I R1 (1 - decay), solved for I.
	i := (p.MaxV - p.OCV.At(c.SOC) - float64(c.BranchV*c.decay)) / c.endOhm(true)
	i = min(i, p.MaxChargeA, (1-c.SOC)/c.perAmp)
	if i < p.CutoffA || i <= 0 {
		return 0
	}
	return i
}

// DischargeLimitA is the largest discharging current of the pack [A] for the next tick, as a
// magnitude: MaxDischA, less where the voltage at the tick's end would pass MinV, and no more than
// SOC has left.
func (c *Cell) DischargeLimitA() float64 { return c.dischargeLimit() * c.parallel }

func (c *Cell) dischargeLimit() float64 {
	p := &c.par
	i := (p.OCV.At(c.SOC) + float64(c.BranchV*c.decay) - p.MinV) / c.endOhm(false)
	return max(0, min(i, p.MaxDischA, c.SOC/c.perAmp))
}

// endOhm is what a cell's voltage at the tick's end rises by per ampere of the tick's current [ohm].
func (c *Cell) endOhm(charging bool) float64 {
	p := &c.par
	return p.R0Ohm + float64(p.R1Ohm*(1-c.decay)) + float64(c.slope(charging)*c.perAmp)
}

// source gives a cell's mean voltage over the next tick as emf + I ohm, I its current: OCV + slope
// I perAmp/2 + I R0 + mean v1. Exact while SOC stays on one straight piece of OCV.
func (c *Cell) source(charging bool) (emf, ohm float64) {
	p := &c.par
	emf = p.OCV.At(c.SOC)
	ohm = p.R0Ohm + float64(c.slope(charging)*c.perAmp/2)
	if p.R1Ohm > 0 {
		emf += float64(c.BranchV*c.lag) / c.h
		ohm += float64(p.R1Ohm * (1 - c.lag/c.h))
	}
	return emf, ohm
}

// CurrentForPower is the pack's current [A] whose mean power over the next tick is packW at the
// terminals [W], charging positive; ok is false where the pack cannot give so much, and the current
// is then that of the most that it can give. The limits of current and voltage are not in it. Exact
// while SOC stays on one straight piece of OCV.
func (c *Cell) CurrentForPower(packW float64) (packA float64, ok bool) {
	emf, ohm := c.source(packW > 0)
	i, ok := CurrentForPower(emf, ohm, packW/(c.series*c.parallel))
	return i * c.parallel, ok
}

// StepPower lets the power packW [W] flow at the terminals for one tick, or as much of it as the
// limits of current, voltage and charge allow. MeanW then says how much that was.
func (c *Cell) StepPower(packW float64) {
	if packW == 0 {
		c.Step(0)
		return
	}
	amps, _ := c.CurrentForPower(packW)
	c.Step(min(max(amps, -c.DischargeLimitA()), c.ChargeLimitA()))
}

// ChargeRoomW is the largest mean power that the pack takes in the next tick at its terminals [W], >= 0.
func (c *Cell) ChargeRoomW() float64 {
	emf, ohm := c.source(true)
	i := c.chargeLimit()
	return c.series * c.parallel * i * (emf + float64(i*ohm))
}

// DischargeRoomW is the largest mean power that the pack gives in the next tick at its terminals [W], >= 0.
func (c *Cell) DischargeRoomW() float64 {
	emf, ohm := c.source(false)
	i := min(c.dischargeLimit(), emf/(2*ohm)) // beyond that, more current gives less power
	return c.series * c.parallel * i * (emf - float64(i*ohm))
}

// CurrentForPower solves P = I (E + I R) for I, charging positive, with E = emfV > 0 [V], R = ohm >= 0, P [W]:
// I = 2 P / (E + sqrt(E^2 + 4 R P)), the root that vanishes with P. No current gives more than E^2/(4 R); ok
// is then false, and I = -E/(2 R) gives that.
func CurrentForPower(emfV, ohm, powerW float64) (currentA float64, ok bool) {
	under := float64(emfV*emfV) + float64(4*ohm*powerW)
	if under < 0 {
		return -emfV / (2 * ohm), false
	}
	return 2 * powerW / (emfV + math.Sqrt(under)), true
}

package physics

// PVWattsEfficiency returns the part-load efficiency of a PV inverter [1]: load is DC power over
// the DC power at which it reaches its AC rating [1], nominal the efficiency there [1].
//
//	eta = nominal/0.9637 (-0.0162 z - 0.0059/z + 0.9858), z = load
//
// Negative at very small loads, where the inverter's own consumption exceeds its input.
//
// Source: A. P. Dobos, PVWatts Version 5 Manual, NREL/TP-6A20-62641, 2014, section 10.
func PVWattsEfficiency(load, nominal float64) float64 {
	if load <= 0 {
		return 0
	}
	return nominal / 0.9637 * (float64(-0.0162*load) - 0.0059/load + 0.9858)
}

// PVWattsAC returns the AC power of a PV inverter [W] at a DC power [W]; dcRatedW is the DC
// power at which it reaches its AC rating nominal x dcRatedW, where it clips. Never
// negative: what it draws at night is not modelled.
//
// Source: as of PVWattsEfficiency.
func PVWattsAC(dcW, dcRatedW, nominal float64) float64 {
	if dcW <= 0 {
		return 0
	}
	ac := PVWattsEfficiency(dcW/dcRatedW, nominal) * dcW
	return max(0, min(ac, nominal*dcRatedW))
}

// SandiaInverter is a PV inverter by its measured parameters.
type SandiaInverter struct {
	RatedACW float64 // AC rating Paco [W]
	RatedDCW float64 // DC power Pdco at which it is reached, at RatedV [W]
	RatedV   float64 // DC voltage Vdco of the rating [V]
	StartW   float64 // DC power Pso at which it starts, its own consumption [W]
	C0       float64 // curvature of AC over DC power [1/W]
	C1       float64 // change of RatedDCW with voltage [1/V]
	C2       float64 // change of StartW with voltage [1/V]
	C3       float64 // change of C0 with voltage [1/V]
	NightW   float64 // AC power Pnt that it draws when it sleeps [W]
}

// ACPower returns the AC power given to the site [W] at a DC voltage [V] and DC power [W]:
//
//	A = RatedDCW (1 + C1 (V - RatedV)), B = StartW (1 + C2 (V - RatedV)), C = C0 (1 + C3 (V - RatedV))
//	P = (RatedACW/(A - B) - C (A - B)) (Pdc - B) + C (Pdc - B)^2
//
// at most RatedACW, and -NightW below StartW.
//
// Source: D. L. King, S. Gonzalez, G. M. Galbraith, W. E. Boyson, Performance Model for
// Grid-Connected Photovoltaic Inverters, SAND2007-5036, 2007.
func (v *SandiaInverter) ACPower(dcV, dcW float64) float64 {
	if dcW < v.StartW {
		return -v.NightW
	}
	dv := dcV - v.RatedV
	a := float64(v.RatedDCW * (1 + float64(v.C1*dv)))
	b := float64(v.StartW * (1 + float64(v.C2*dv)))
	c := v.C0 * (1 + float64(v.C3*dv))
	over := dcW - b
	ac := float64((v.RatedACW/(a-b)-float64(c*(a-b)))*over) + float64(float64(c*over)*over)
	return min(ac, v.RatedACW)
}

// LoadWeight is one term of a weighted efficiency: the share that a load has in it.
type LoadWeight struct {
	Load   float64 // of the rating [1]
	Weight float64 // [1]; the weights of a list sum to 1
}

// EuroWeights are those of the European efficiency.
//
// Source: EN 50530, annex D, from a secondary source (check value PV-41).
var EuroWeights = [6]LoadWeight{{0.05, 0.03}, {0.10, 0.06}, {0.20, 0.13}, {0.30, 0.10}, {0.50, 0.48}, {1, 0.20}}

// CECWeights are those of the efficiency of the California Energy Commission's guidelines.
// The weights are from memory; see check value PV-43.
var CECWeights = [6]LoadWeight{{0.10, 0.04}, {0.20, 0.05}, {0.30, 0.12}, {0.50, 0.21}, {0.75, 0.53}, {1, 0.05}}

// WeightedEfficiency returns the efficiency that an inverter has over a year's mix of loads [1]:
// the sum of weight x efficiency(load).
func WeightedEfficiency(weights [6]LoadWeight, efficiency func(load float64) float64) float64 {
	sum := 0.0
	for _, w := range weights {
		sum += float64(w.Weight * efficiency(w.Load))
	}
	return sum
}

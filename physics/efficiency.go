package physics

import "math"

// EfficiencyForm says how an inverter's conversion efficiency depends on its load.
type EfficiencyForm uint8

// The forms.
const (
	ConstantEfficiency EfficiencyForm = iota // Efficiency at every load
	PartLoadEfficiency                       // the curve of PVWattsEfficiency, with Efficiency at the rating
	SandiaEfficiency                         // the Sandia model, at its nominal DC voltage
)

// converter turns an input power into an output power and back. The input is the AC side while charging and the DC
// side while discharging: losses are on the way, whichever way it is.
type converter struct {
	form     EfficiencyForm
	nominal  float64 // efficiency [1]
	inverse  float64 // 1/nominal
	inRatedW float64 // input at the rating [W]
	sandia   *SandiaInverter
}

func newConverter(p *InverterParams) converter {
	return converter{form: p.EfficiencyForm, nominal: p.Efficiency, inverse: 1 / p.Efficiency,
		inRatedW: p.RatingW / p.Efficiency, sandia: &p.Sandia}
}

// output is what comes out of an input [W], >= 0; negative where the converter itself uses more.
func (c *converter) output(inW float64) float64 {
	switch c.form {
	case PartLoadEfficiency:
		return PartLoadOutput(inW, c.inRatedW, c.nominal)
	case SandiaEfficiency:
		k, b, curve := c.sandia.line(c.sandia.RatedV)
		x := inW - b
		return float64(k*x) + float64(curve*x*x)
	}
	return inW * c.nominal
}

// input is what must go in for an output [W], >= 0.
func (c *converter) input(outW float64) float64 {
	switch c.form {
	case PartLoadEfficiency:
		return PartLoadInput(outW, c.inRatedW, c.nominal)
	case SandiaEfficiency:
		return c.sandia.DCPower(c.sandia.RatedV, outW)
	}
	return outW * c.inverse
}

// dc is the power on the DC side, into the battery positive [W], of a power on the AC side, into the device positive [W].
func (c *converter) dc(acW float64) float64 {
	if acW > 0 {
		return c.output(acW)
	}
	return -c.input(-acW)
}

// PartLoadOutput is the output [W] of a converter at an input inW [W] that is inRatedW at its rating, with the
// efficiency nominal there [1], by the part-load curve of PVWattsEfficiency:
//
//	out = (nominal/0.9637) inRated (-0.0162 z^2 + 0.9858 z - 0.0059),  z = in/inRated
//
// It is not clipped: it is negative under z = 0.006, where the converter uses more than goes in. Source: A. P. Dobos, PVWatts
// Version 5 Manual, NREL/TP-6A20-62641, 2014; check values PV-36 and PV-37.
func PartLoadOutput(inW, inRatedW, nominal float64) float64 {
	z := inW / inRatedW
	return nominal / 0.9637 * inRatedW * (float64(z*(0.9858-float64(0.0162*z))) - 0.0059)
}

// PartLoadInput is the input [W] that gives an output [W] >= 0 by the same curve: its quadratic, solved for z.
func PartLoadInput(outW, inRatedW, nominal float64) float64 {
	a := 0.0059 + float64(outW*0.9637)/(nominal*inRatedW)
	under := float64(0.9858*0.9858) - float64(4*0.0162*a)
	// 2a / (b + sqrt(b^2 - 4 c a)) is the small root without cancellation.
	return inRatedW * 2 * a / (0.9858 + math.Sqrt(max(under, 0)))
}

// line gives K, B and C of the Sandia model at a DC voltage: Pac = K (Pdc - B) + C (Pdc - B)^2.
func (v *SandiaInverter) line(dcV float64) (k, b, c float64) {
	dv := dcV - v.RatedV
	a := float64(v.RatedDCW * (1 + float64(v.C1*dv)))
	b = float64(v.StartW * (1 + float64(v.C2*dv)))
	c = v.C0 * (1 + float64(v.C3*dv))
	return v.RatedACW/(a-b) - float64(c*(a-b)), b, c
}

// DCPower is the DC power [W] for an AC power [W] >= 0 at a DC voltage [V]: ACPower's quadratic, solved for
// the DC power and not clipped. Source: D. L. King et al., SAND2007-5036; check values PV-39 and PV-40.
func (v *SandiaInverter) DCPower(dcV, acW float64) float64 {
	k, b, c := v.line(dcV)
	under := float64(k*k) + float64(4*c*acW)
	return b + float64(2*acW)/(k+math.Sqrt(max(under, 0)))
}

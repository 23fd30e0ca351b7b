package physics

import "math"

// CT is one current transformer as fitted: which conductor it clasps, and how.
type CT struct {
	Clasps       Phases  // L1, L2 or L3; AllPhases means that it is fitted nowhere and reads no current
	Reversed     bool    // fitted the wrong way round
	GainError    float64 // relative error of the ratio [1]
	PhaseMinutes float64 // displacement of the secondary current [minutes of arc], positive leading
}

// CTWiring is how the three transformers of a meter are fitted; CTWiring[k] belongs to the meter's
// input of voltage k + 1.
type CTWiring [3]CT

// RightWiring is a meter without a fault.
func RightWiring() CTWiring { return CTWiring{{Clasps: L1}, {Clasps: L2}, {Clasps: L3}} }

// Measure is what such a meter reads per input [W], of the true active powers [W] and reactive
// powers [var] in the conductors, import and absorbing positive. Input k multiplies its own voltage
// with the current that its transformer clasps; where that is of another conductor, c, the angle
// between is (c - k) 120 deg further lagging, and
//
//	reading = P cos a + Q sin a,  a = delta - 120 deg (c - k)
//
// with delta the displacement. Voltages are symmetric, in the order L1, L2, L3. Source:
// trigonometry of three-phase power; check values CT-20 to CT-24.
func (w *CTWiring) Measure(activeW, reactiveVar [3]float64) [3]float64 {
	f := w.factors()
	return f.measure(activeW, reactiveVar)
}

// ctFactors is a CTWiring worked out: each input's reading is P x active + Q x reactive of one conductor.
type ctFactors [3]struct {
	conductor        int
	active, reactive float64
}

func (w *CTWiring) factors() (f ctFactors) {
	const (
		cos120 = -0.5
		sin120 = 0.86602540378443864676
	)
	for k := range w {
		t := &w[k]
		if t.Clasps == AllPhases {
			continue
		}
		c := int(t.Clasps - L1)
		cos, sin := 1.0, 0.0
		switch (c - k + 3) % 3 {
		case 1:
			cos, sin = cos120, -sin120
		case 2:
			cos, sin = cos120, sin120
		}
		if t.PhaseMinutes != 0 {
			ds, dc := sincos(t.PhaseMinutes / 60 * (math.Pi / 180))
			cos, sin = float64(cos*dc)-float64(sin*ds), float64(sin*dc)+float64(cos*ds)
		}
		ratio := 1 + t.GainError
		if t.Reversed {
			ratio = -ratio
		}
		f[k].conductor, f[k].active, f[k].reactive = c, cos*ratio, sin*ratio
	}
	return f
}

func (f *ctFactors) measure(activeW, reactiveVar [3]float64) (out [3]float64) {
	for k := range f {
		x := &f[k]
		out[k] = float64(activeW[x.conductor]*x.active) + float64(reactiveVar[x.conductor]*x.reactive)
	}
	return out
}

// ReactiveAt is the reactive power [var] that goes with an active power [W] at a power factor [1],
// positive for a load that lags and negative for one that leads. Its sign for a negative power
// keeps the sense of the angle. Not valid at power factor 0.
func ReactiveAt(activeW, powerFactor float64) float64 {
	pf := math.Abs(powerFactor)
	q := activeW * math.Sqrt(max(0, float64((1-pf)*(1+pf)))) / pf
	if powerFactor < 0 {
		return -q
	}
	return q
}

// Metered is a three-phase flow as two kinds of meter register it [W]: one that sums its phases
// first, and one that keeps import and export of each phase apart. They differ whenever phases flow
// against each other.
type Metered struct {
	NetImportW, NetExportW     float64 // of the sum of the phases
	PhaseImportW, PhaseExportW float64 // sums of the importing and of the exporting phases
}

// MeterPhases registers powers per phase [W], import positive. Check value CT-25.
func MeterPhases(phaseW [3]float64) Metered {
	var m Metered
	for _, w := range phaseW {
		m.PhaseImportW += max(0, w)
		m.PhaseExportW += max(0, -w)
	}
	net := phaseW[0] + phaseW[1] + phaseW[2]
	m.NetImportW, m.NetExportW = max(0, net), max(0, -net)
	return m
}

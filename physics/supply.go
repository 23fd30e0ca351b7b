package physics

// SupplyState is the supply at run time, as seen at the inlet.
type SupplyState struct {
	SourceV [3]float64 // open-circuit phase voltages now [V]
	Hz      float64    // frequency now [Hz]
	Live    bool       // the grid is there
	VoltsV  [3]float64 // phase voltages at the inlet at the end of the last tick [V]
	AmpsA   [3]float64 // currents at the inlet [A], magnitudes

	Blown     bool    // the main fuse has melted
	FuseLoad  float64 // heating of the fullest fuse [1]; it melts at 1
	WorstLoad float64 // the most that this has been [1]

	lowV, highV, meanV float64
	watched            bool // some device looks at voltage or current in every tick
	fuses              [3]Fuse
	fused              bool
	backTick           int64 // when an outage ends; 0 for no end set
	par                *Supply
	phases             int
	neutralV           [2]float64 // of the neutral against the source's, real and imaginary [V]
}

func newSupplyState(s *Site) (SupplyState, error) {
	u := SupplyState{Hz: s.Supply.FrequencyHz, Live: true, par: &s.Supply, phases: s.Phases}
	for k := range s.Phases {
		u.SourceV[k], u.VoltsV[k] = s.Supply.VoltageV, s.Supply.VoltageV
	}
	u.lowV, u.highV, u.meanV = s.Supply.VoltageV, s.Supply.VoltageV, s.Supply.VoltageV
	if s.Supply.FuseMelts {
		u.fused, u.watched = true, true
		for k := range s.Phases {
			f, err := NewFuse(s.Supply.FuseA, s.Supply.FusePosition, float64(s.StepMS)/1000)
			if err != nil {
				return u, err
			}
			u.fuses[k] = f
		}
	}
	return u, nil
}

// setVoltage gives all phases an open-circuit voltage [V].
func (u *SupplyState) setVoltage(v float64) {
	for k := range u.phases {
		u.SourceV[k] = v
	}
}

// solve works out the voltages at the inlet under the site's powers [W] and reactive powers [var] per phase, import
// and absorbing positive.
//
// Without a neutral impedance each phase is the two-node load flow in closed form
// (VoltageAtInlet). With one, the neutral carries the sum of the phase currents and shifts all three: the
// neutral's voltage is found by iterating
//
//	I_k = conj(S_k / (V_k - V_n)),  V_k = E_k - Z I_k,  V_n = Zn (I_1 + I_2 + I_3)
//
// from the last tick's solution; four rounds leave less than a microvolt where the drop is a few
// percent. Source: Kirchhoff's laws; common practice.
func (u *SupplyState) solve(w, q [3]float64) {
	p := u.par
	if p.NeutralOhm == 0 && p.NeutralXOhm == 0 || u.phases == 1 {
		r, x := p.ResistanceOhm, p.ReactanceOhm
		if u.phases == 1 {
			r, x = r+p.NeutralOhm, x+p.NeutralXOhm
		}
		for k := range u.phases {
			if k > 0 && w[k] == w[k-1] && q[k] == q[k-1] && u.SourceV[k] == u.SourceV[k-1] {
				u.VoltsV[k] = u.VoltsV[k-1] // as it is nearly always
				continue
			}
			u.VoltsV[k] = VoltageAtInlet(u.SourceV[k], r, x, w[k], q[k])
		}
	} else {
		u.VoltsV, u.neutralV = voltagesWithNeutral(u.SourceV, p.impedance(), p.neutral(), w, q, u.neutralV, 3)
	}
	u.lowV, u.highV, u.meanV = u.VoltsV[0], u.VoltsV[0], 0
	for k := range u.phases {
		v := u.VoltsV[k]
		u.lowV, u.highV = min(u.lowV, v), max(u.highV, v)
		u.meanV += v / float64(u.phases)
		if v > 0 {
			u.AmpsA[k] = apparent(w[k], q[k]) / v
		}
	}
	if !u.Live {
		u.VoltsV, u.AmpsA = [3]float64{}, [3]float64{}
		u.lowV, u.highV, u.meanV = 0, 0, 0
	}
}

// heat lets the tick's currents flow through the main fuses.
func (u *SupplyState) heat() {
	if !u.fused || u.Blown {
		return
	}
	u.FuseLoad = 0
	for k := range u.phases {
		if u.fuses[k].Step(u.AmpsA[k]) {
			u.Blown, u.Live = true, false
		}
		u.FuseLoad = max(u.FuseLoad, u.fuses[k].Heat)
	}
	u.WorstLoad = max(u.WorstLoad, u.FuseLoad)
}

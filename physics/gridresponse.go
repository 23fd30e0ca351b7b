package physics

// ResponseParams describe how a device with an inverter answers the supply's voltage and
// frequency. Every part is optional: a nil curve, a droop of zero and an empty table do nothing.
type ResponseParams struct {
	VoltWatt          Curve   // largest injection [1 of the rating] over voltage [1 of nominal]; nil means none
	VoltWattResponseS float64 // open-loop response time [s]
	VoltVar           Curve   // reactive power [1 of the rating, absorbing positive] over voltage [1 of nominal]; nil means none
	VoltVarResponseS  float64 // open-loop response time [s]
	Frequency         FrequencyParams
	Trips             []TripStage        // interface protection; empty means none
	Enter             EnterServiceParams // when it may connect again after a trip or an outage; all zero means at once
}

// supplyAnswer is the runtime state of a device's answer to the supply.
type supplyAnswer struct {
	par      ResponseParams
	nominalV float64
	voltWatt CurveResponse
	voltVar  CurveResponse
	freq     FrequencyResponse
	relay    TripRelay
	enter    EnterService
	waits    bool // it does not connect again at once

	share float64 // largest injection that voltage and reconnection permit [1 of the rating]
	varPU float64 // reactive power [1 of the rating, absorbing positive]
	on    bool    // connected
}

func newSupplyAnswer(p *ResponseParams, ratingW float64, s *Site) *supplyAnswer {
	stepS := float64(s.StepMS) / 1000
	a := &supplyAnswer{par: *p, nominalV: s.Supply.VoltageV, share: 1, on: true}
	if len(p.VoltWatt) > 0 {
		a.voltWatt = NewCurveResponse(p.VoltWatt, p.VoltWattResponseS, 1, stepS)
	}
	if len(p.VoltVar) > 0 {
		a.voltVar = NewCurveResponse(p.VoltVar, p.VoltVarResponseS, 1, stepS)
	}
	f := p.Frequency
	a.freq = NewFrequencyResponse(f, stepS)
	a.relay = NewTripRelay(p.Trips, stepS)
	a.waits = p.Enter != EnterServiceParams{}
	enter := p.Enter
	if !a.waits {
		enter = EnterServiceParams{HighV: 1e9, HighHz: 1e9}
	}
	a.enter = NewEnterService(enter, stepS)
	return a
}

// step follows one tick of the supply.
func (a *supplyAnswer) step(u *SupplyState) {
	down := a.relay.Step(u.lowV, u.highV, u.Hz) || !u.Live
	a.enter.Step(u.lowV, u.highV, u.Hz, down)
	if a.relay.Tripped && u.Live && !a.relay.beyondAny() {
		a.relay.Reset() // the supply is back within the table: the waiting begins
	}
	a.on = a.enter.Connected
	a.share = a.enter.Permitted
	v := u.meanV / a.nominalV
	if len(a.par.VoltWatt) > 0 {
		a.share = min(a.share, a.voltWatt.Step(v))
	}
	if len(a.par.VoltVar) > 0 {
		a.varPU = a.voltVar.Step(v)
	}
}

// beyondAny says whether any stage sees its quantity beyond the threshold.
func (r *TripRelay) beyondAny() bool {
	for i := range r.count {
		if r.beyond[i] > 0 {
			return true
		}
	}
	return false
}

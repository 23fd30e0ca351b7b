package criteria

// Sample is what the monitors see of one step. The judge fills one Sample and
// reuses it, so a monitor never keeps a pointer into it.
//
// Signs: power that flows from the site into a device is positive. Grid flow is
// positive on import, a charging battery is positive, PV is negative.
type Sample struct {
	// Tick counts steps from 1; the step ends at Tick x StepS.
	Tick int64
	// StepS is the length of the step in seconds and never changes in a run.
	StepS float64
	// GridW is the flow at the inlet at the end of the step.
	GridW float64
	// NetLoadW is what all but the inverters draw: GridW minus the sum of the
	// inverters' ACPowerW.
	NetLoadW float64
	// GivenW is the part of NetLoadW that nobody can steer.
	GivenW float64
	// Inverters has the same length and order in every sample of a run.
	Inverters []InverterSample
	// Disturbed says that a disturbance which the scenario declares began in
	// this step.
	Disturbed bool
	// Unfolding says that such a disturbance goes on to move the net load by
	// itself: a cloud passes, or a vehicle ramps up.
	Unfolding bool
	// ImportWanted and ExportWanted mark windows in which the scenario intends
	// import or export.
	ImportWanted, ExportWanted bool
}

// InverterSample is one inverter with its battery at the end of the step.
type InverterSample struct {
	// ACPowerW is the power on the site's side, positive while charging.
	ACPowerW float64
	// BatteryW is the power at the battery, positive while charging.
	BatteryW float64
	// SOC is the true state of charge, 0..1.
	SOC float64
	// ChargeRoomW and DischargeRoomW, both at least zero and on the AC side, are
	// the most that the inverter could charge or discharge now.
	ChargeRoomW, DischargeRoomW float64
}

// reach sums the room of all inverters: the grid flow can lie anywhere between
// NetLoadW - dischargeW and NetLoadW + chargeW.
func (s *Sample) reach() (chargeW, dischargeW float64) {
	for i := range s.Inverters {
		chargeW += s.Inverters[i].ChargeRoomW
		dischargeW += s.Inverters[i].DischargeRoomW
	}
	return chargeW, dischargeW
}

// leastFlowW is the grid flow that remains when the batteries do all that they
// can to bring it to zero: N + clamp(-N, -dischargeW, chargeW).
func (s *Sample) leastFlowW() float64 {
	chargeW, dischargeW := s.reach()
	return s.NetLoadW + min(max(-s.NetLoadW, -dischargeW), chargeW)
}

package criteria

// Sample is what the monitors see of one step. The judge fills one Sample and
// reuses it, so a monitor never keeps a pointer into it.
//
// The zero value of a field means "not known" or "nothing of the kind", so that a
// judge which does not know a field leaves it alone: a criterion that needs it is
// then not exercised.
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
	// Cheap says that a cheap slot is on.
	Cheap bool
	// Islanded says that the supply is dark, so that nothing can be imported.
	Islanded bool
	// FuseA is the rated current of the supply's fuse in A.
	FuseA float64
	// Phases are the supply's phase conductors, one to three, the same ones in
	// every sample of a run.
	Phases []PhaseSample
	// ChargerW is what vehicle chargers draw together; it is a part of NetLoadW.
	ChargerW float64
	// VehicleCharging says that a vehicle takes power from a charger.
	VehicleCharging bool
	// Controller is what is known of the controller under test.
	Controller ControllerState
	// MeterLost says that no answer comes from a meter by which the controller
	// steers.
	MeterLost bool
	// Commands are those that took effect in this step, in their order.
	Commands []CommandSample
	// Writes are the requests to write since the step before, in their order.
	Writes []WriteSample
	// Wire holds one entry for each device that had traffic since the step before.
	Wire []WireSample
	// Signals are the quantities of which sentences may speak, in the same order in every sample of a run. Those of which none
	// speaks are zero.
	Signals []float64
}

// PhaseSample is one phase conductor of the supply, in A rms and at least zero.
type PhaseSample struct {
	// CurrentA is the current at the end of the step.
	CurrentA float64
	// LeastA and MostA are the least and the most that it could be with the
	// batteries doing all that they can. A zero MostA means that only the current
	// itself is known.
	LeastA, MostA float64
}

// ControllerState is what is known of the controller under test.
type ControllerState uint8

const (
	// ControllerUnknown: there is none, or nobody looks.
	ControllerUnknown ControllerState = iota
	// ControllerStarted: it runs, and has not been heard on the wire yet.
	ControllerStarted
	// ControllerPresent: it is at work, or waits.
	ControllerPresent
	// ControllerDead: it ended, was killed or is paused.
	ControllerDead
)

// CommandSample is a command that took effect.
type CommandSample struct {
	// Device is the device's place in the bench's order, and Inverter the place in
	// Inverters of the one that it is, plus 1; 0 is a device that is no inverter.
	Device, Inverter int
	// Signal is the commanded quantity's word, such as "charge_limit".
	Signal string
	// Value is in inside units and sign, Raw as it stood in the registers.
	Value float64
	Raw   uint64
	// Limit is the limit that the command sets, if it sets one.
	Limit LimitSet
	// LastsS is after how many seconds the device lets the limit go if nobody
	// renews it; 0 is never.
	LastsS float64
	// Timeable: the device could be told for how long.
	Timeable bool
	// Lapsed: nobody wrote this, an earlier command's time was over.
	Lapsed bool
	// Refused: the device did not obey.
	Refused bool
}

// LimitSet is a set of limits that an inverter can be under.
type LimitSet uint8

const (
	// ChargeLimited: charging is limited or forced.
	ChargeLimited LimitSet = 1 << iota
	// DischargeLimited: discharging is limited or forced.
	DischargeLimited
	// OutputLimited: the power is limited in both directions.
	OutputLimited
	// Disconnected: the contactor was told to open.
	Disconnected

	limitKinds = 4
)

// WriteSample is one request to write.
type WriteSample struct {
	// Device is the device's place in the bench's order.
	Device int
	// Register is the first register (or coil) written, Count how many; a Count of
	// 0 stands for 1.
	Register, Count uint16
	// Refused: an exception was the answer.
	Refused bool
}

// WireSample is the traffic of one device since the step before.
type WireSample struct {
	// Device is the device's place in the bench's order.
	Device int
	// Reads and Writes count requests, answered or not.
	Reads, Writes int
	// Exceptions counts the exception replies that the requests deserved, and not
	// those that a declared fault of the device or its link made.
	Exceptions int
	// Illegal counts writes to what may not be written, or of values out of range.
	Illegal int
	// Forbidden counts writes to a device that the scenario does not let the
	// controller command.
	Forbidden int
}

// Mode is what an inverter was told to do.
type Mode uint8

const (
	// ModeUnknown: nothing is known of the mode.
	ModeUnknown Mode = iota
	// ModeNative: the native loop drives its own meter's reading.
	ModeNative
	// ModeHold: runs at 0 W, or stands by.
	ModeHold
	// ModeCharge and ModeDischarge: with all that the limits allow.
	ModeCharge
	ModeDischarge
	// ModeSetpoint: follows a commanded power.
	ModeSetpoint
)

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
	// ToldSOC is the state of charge that the device reports, 0..1.
	ToldSOC float64
	// Reserve is the state of charge that is to be kept for an outage, 0..1, by the
	// owner's word and whatever a controller wrote since.
	Reserve float64
	// CapacityWh is the battery's usable capacity.
	CapacityWh float64
	// Mode is what the inverter was told to do.
	Mode Mode
	// Limits are the written limits that it obeys now.
	Limits LimitSet
	// Forced says that a written limit forces power instead of narrowing what its
	// native loop may do.
	Forced bool
	// Away says that it has tripped, or that its contactor is open.
	Away bool
	// LinkLost says that no answer comes from it.
	LinkLost bool
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

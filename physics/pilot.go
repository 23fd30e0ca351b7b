package physics

// PilotOffer says what a duty cycle of the control pilot tells a vehicle.
type PilotOffer uint8

// A duty cycle allows no charging, asks for digital communication, or names a current.
const (
	NoCurrent PilotOffer = iota
	DigitalOnly
	CurrentOffered
)

// PilotMinA is the smallest current that a duty cycle names [A]; below it a session pauses instead
// of shrinking. Source: IEC 61851-1:2017 annex A (the pause from memory); check value EV-05.
const PilotMinA = 6.0

// PilotCurrent is what a duty cycle D [%] of the control pilot means to a vehicle: its offer, and
// the current per conductor [A]:
//
//	3 to 7: digital communication    8 to 10: 6 A    10 to 85: 0.6 D
//	85 to 96: 2.5 (D - 64)           96 to 97: 80 A  else: none
//
// The ends at 3, 7, 8 and 97 belong to the range; D = 85 means 51 A, and just above it 52.5 A, so
// that no duty cycle names a current between those. Source: IEC 61851-1:2017 annex A; check values
// EV-01, EV-02 and EV-04.
func PilotCurrent(dutyPercent float64) (PilotOffer, float64) {
	switch d := dutyPercent; {
	case d >= 3 && d <= 7:
		return DigitalOnly, 0
	case d < 8 || d > 97 || d != d:
		return NoCurrent, 0
	case d <= 10:
		return CurrentOffered, 6
	case d <= 85:
		return CurrentOffered, 0.6 * d
	case d <= 96:
		return CurrentOffered, 2.5 * (d - 64)
	}
	return CurrentOffered, 80
}

// PilotDuty is the duty cycle [%] that names a current [A], the largest current not above it where
// none names it exactly (between 51 and 52.5 A, and above 80 A). Under 6 A it is 100: the pilot
// stands still at its high level, and the session pauses. Check values EV-03 to EV-05.
func PilotDuty(currentA float64) float64 {
	switch {
	case !(currentA >= PilotMinA):
		return 100
	case currentA <= 51:
		return currentA / 0.6
	case currentA <= 52.5:
		return 85
	case currentA <= 80:
		return 64 + currentA/2.5
	}
	return 96
}

// PilotState is a state of the control pilot.
type PilotState uint8

// States of IEC 61851-1:2017 annex A. PilotUndefined is a level that belongs to none.
const (
	PilotA         PilotState = iota // no vehicle
	PilotB                           // vehicle connected, not ready
	PilotC                           // vehicle ready, no ventilation wanted
	PilotD                           // vehicle ready, ventilation wanted
	PilotE                           // no pilot: short circuit or no supply
	PilotF                           // charger not available
	PilotUndefined                   // between the windows
)

// String gives the state's letter.
func (s PilotState) String() string { return string("ABCDEF??"[s&7]) }

// NominalV is the high level of the pilot in a state [V]. Check value EV-06.
func (s PilotState) NominalV() float64 {
	return [...]float64{12, 9, 6, 3, 0, -12, 0, 0}[s&7]
}

// PilotStateAt is the state that a charger sees in the pilot's high level [V]: A 11.4 to 12.6, B
// 8.36 to 9.56, C 5.48 to 6.53 (IEC 61851-1:2017 table A.4, secondary; check value EV-07); D 2.62
// to 3.25, E within 0.5 V of 0, F -12.6 to -11.4 (from memory, or our own for E).
func PilotStateAt(highV float64) PilotState {
	switch v := highV; {
	case v >= 11.4 && v <= 12.6:
		return PilotA
	case v >= 8.36 && v <= 9.56:
		return PilotB
	case v >= 5.48 && v <= 6.53:
		return PilotC
	case v >= 2.62 && v <= 3.25:
		return PilotD
	case v >= -0.5 && v <= 0.5:
		return PilotE
	case v >= -12.6 && v <= -11.4:
		return PilotF
	}
	return PilotUndefined
}

// What a vehicle puts between pilot and earth [ohm]; from memory, check value EV-08.
const (
	PilotOhmB = 2740.0
	PilotOhmC = 882.0 // 2.74 kohm parallel to 1.3 kohm
	PilotOhmD = 246.0 // 2.74 kohm parallel to 270 ohm
)

// PilotLevel is the pilot's high level [V] with a resistance behind the vehicle's diode [ohm]: 12 V
// behind 1 kohm, and 0.7 V across the diode. Check value EV-08.
func PilotLevel(ohm float64) float64 { return 0.7 + float64((12-0.7)*ohm)/(ohm+1000) }

// Times of the pilot; IEC 61851-1 annex A, table A.6, from memory (check values EV-10 to EV-12).
const (
	PilotFollowS     = 5.0    // a vehicle follows a new duty cycle within [s]
	PilotHz          = 1000.0 // [Hz], +-0.5 %
	PilotHzTolerance = 0.005
	PilotOpenS       = 0.1 // from the vehicle's end of charging, or the loss of the pilot, to the contactor open [s]
	PilotForceOpenS  = 3.0 // a vehicle that does not react to the end of the offer is cut off after [s]
)

// ChargingPower is the power [W] of a current per conductor [A] at a phase voltage [V] on 1 or 3
// conductors, at unity power factor. Check value EV-09.
func ChargingPower(currentA, voltageV float64, conductors int) float64 {
	return currentA * voltageV * float64(conductors)
}

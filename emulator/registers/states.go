package registers

// The modes of a battery inverter, as values of the signal Mode.
const (
	ModeSelfConsumption = 0
	ModeHold            = 1
	ModeCharge          = 2
	ModeDischarge       = 3
	ModeStandby         = 4
	// ModeSetpoint follows the signed Setpoint.
	ModeSetpoint = 5
)

// Values of the signal OperatingState, numbered as SunSpec model 103 numbers its point St.
const (
	StateOff          = 1
	StateSleeping     = 2
	StateStarting     = 3
	StateRunning      = 4
	StateThrottled    = 5
	StateShuttingDown = 6
	StateFault        = 7
	StateStandby      = 8
)

// Values of the signal ChargeState, numbered as SunSpec model 124 numbers its point ChaSt.
const (
	ChargeOff         = 1
	ChargeEmpty       = 2
	ChargeDischarging = 3
	ChargeCharging    = 4
	ChargeFull        = 5
	ChargeHolding     = 6
	ChargeTesting     = 7
)

// Values of the signal ChargerState: the vehicle states A to F of IEC 61851-1.
const (
	ChargerA = 0 // no vehicle
	ChargerB = 1 // vehicle connected, not ready
	ChargerC = 2 // charging
	ChargerD = 3 // charging, ventilation required
	ChargerE = 4 // no pilot
	ChargerF = 5 // charger fault
)

// Word names a value of a signal that is an enumeration; it is empty for any other.
func (s Signal) Word(value float64) string {
	for _, w := range stateWords(s) {
		if w.value == value {
			return w.word
		}
	}
	return ""
}

// stateWord names one value of a signal that is an enumeration.
type stateWord struct {
	word  string
	value float64
}

// stateWords returns the words for a signal's values; nil for a signal that is a quantity.
func stateWords(s Signal) []stateWord {
	switch s {
	case Mode:
		return modeWords
	case OperatingState:
		return operatingWords
	case ChargeState:
		return chargeWords
	case ChargerState:
		return chargerWords
	case CheapSlot, Connect, Enable:
		return switchWords
	case LocalWeekday:
		return weekdayWords
	}
	return nil
}

var (
	modeWords = []stateWord{
		{"self-consumption", ModeSelfConsumption}, {"hold", ModeHold}, {"charge", ModeCharge},
		{"discharge", ModeDischarge}, {"standby", ModeStandby}, {"setpoint", ModeSetpoint},
	}
	operatingWords = []stateWord{
		{"off", StateOff}, {"sleeping", StateSleeping}, {"starting", StateStarting}, {"running", StateRunning},
		{"throttled", StateThrottled}, {"shutting-down", StateShuttingDown}, {"fault", StateFault},
		{"standby", StateStandby},
	}
	chargeWords = []stateWord{
		{"off", ChargeOff}, {"empty", ChargeEmpty}, {"discharging", ChargeDischarging},
		{"charging", ChargeCharging}, {"full", ChargeFull}, {"holding", ChargeHolding}, {"testing", ChargeTesting},
	}
	chargerWords = []stateWord{
		{"no-vehicle", ChargerA}, {"connected", ChargerB}, {"charging", ChargerC},
		{"ventilation", ChargerD}, {"no-pilot", ChargerE}, {"fault", ChargerF},
	}
	switchWords  = []stateWord{{"off", 0}, {"on", 1}}
	weekdayWords = []stateWord{
		{"monday", 1}, {"tuesday", 2}, {"wednesday", 3}, {"thursday", 4}, {"friday", 5}, {"saturday", 6}, {"sunday", 7},
	}
)

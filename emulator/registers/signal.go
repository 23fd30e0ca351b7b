package registers

import (
	"fmt"
	"math"
)

// Signal is one quantity of a device, measured or commanded.
type Signal uint8

// The vocabulary. Powers and currents are positive into the device; the unit of each stands in the table below.
const (
	ACPower Signal = iota
	ACPowerL1
	ACPowerL2
	ACPowerL3
	ReactivePower
	ApparentPower
	PowerFactor
	ACCurrent
	ACCurrentL1
	ACCurrentL2
	ACCurrentL3
	VoltageL1
	VoltageL2
	VoltageL3
	VoltageL1L2
	VoltageL2L3
	VoltageL3L1
	Frequency
	// DCPower is the power that PV delivers on the DC side; it is never negative.
	DCPower
	DCVoltage
	DCCurrent
	BatteryPower
	BatteryVoltage
	BatteryCurrent
	SOC
	SOH
	// EnergyImported and EnergyExported count what flowed into and out of the device; both only grow.
	EnergyImported
	EnergyExported
	Temperature
	OperatingState
	ChargeState
	RatedPower
	RatedApparentPower
	RatedCurrent
	RatedChargePower
	RatedDischargePower
	UsableCapacity
	ReserveSOC
	ChargerCurrent
	ChargerState
	OfferedCurrent
	CheapSlot
	Price
	// TimeMS is simulated time since the start.
	TimeMS
	UnixTime
	LocalSecondOfDay
	// LocalWeekday counts 1 for Monday to 7 for Sunday (ISO 8601).
	LocalWeekday
	// ReversionLeft and OutputReversionLeft are the seconds until the set point, or the output limit, lapses; 0 while
	// none does.
	ReversionLeft
	OutputReversionLeft

	// Mode is the first command. Commands can be written; in a snapshot they carry what the device obeys now.
	Mode
	Setpoint
	// ChargeLimit is the most that the battery may charge with; a negative limit forces discharging.
	ChargeLimit
	// DischargeLimit is the most that the battery may discharge with; a negative limit forces charging.
	DischargeLimit
	// OutputLimit is a fraction of the rating.
	OutputLimit
	Connect
	Reserve
	// Enable is the register that other points need, where a device has one.
	Enable
	// ReversionTime is how long the battery's limits last after they were written; 0 is for ever.
	ReversionTime
	OutputReversionTime
	ConnectReversionTime
	MaxCurrent
	// WaitMS asks the bench clock to answer when this time has passed.
	WaitMS

	// NumSignals is how many signals there are; it doubles as "no signal".
	NumSignals
)

// NoSignal marks a point that no single signal feeds.
const NoSignal = NumSignals

// Values is one device's snapshot, by signal. NaN means that the device does not have or know the value.
type Values [NumSignals]float64

// Unknown returns a snapshot in which nothing is known.
func Unknown() Values {
	var v Values
	for i := range v {
		v[i] = math.NaN()
	}
	return v
}

// dimension is a kind of quantity; units convert within one.
type dimension uint8

const (
	pure dimension = iota
	fraction
	power
	reactivePower
	apparentPower
	energy
	voltage
	current
	frequency
	temperature
	seconds
	milliseconds
)

// symbols of the units that hold inside, by dimension.
var insideUnits = [...]string{
	pure: "", fraction: "", power: "W", reactivePower: "var", apparentPower: "VA", energy: "Wh", voltage: "V",
	current: "A", frequency: "Hz", temperature: "degC", seconds: "s", milliseconds: "ms",
}

type signalFacts struct {
	name      string
	dimension dimension
	// directed signals have a sign that a map can turn round.
	directed bool
	// counter signals only grow, and wrap in their register.
	counter bool
}

var signals = [NumSignals]signalFacts{
	ACPower:              {name: "ac_power", dimension: power, directed: true},
	ACPowerL1:            {name: "ac_power_l1", dimension: power, directed: true},
	ACPowerL2:            {name: "ac_power_l2", dimension: power, directed: true},
	ACPowerL3:            {name: "ac_power_l3", dimension: power, directed: true},
	ReactivePower:        {name: "reactive_power", dimension: reactivePower, directed: true},
	ApparentPower:        {name: "apparent_power", dimension: apparentPower},
	PowerFactor:          {name: "power_factor", dimension: fraction, directed: true},
	ACCurrent:            {name: "ac_current", dimension: current, directed: true},
	ACCurrentL1:          {name: "ac_current_l1", dimension: current, directed: true},
	ACCurrentL2:          {name: "ac_current_l2", dimension: current, directed: true},
	ACCurrentL3:          {name: "ac_current_l3", dimension: current, directed: true},
	VoltageL1:            {name: "voltage_l1", dimension: voltage},
	VoltageL2:            {name: "voltage_l2", dimension: voltage},
	VoltageL3:            {name: "voltage_l3", dimension: voltage},
	VoltageL1L2:          {name: "voltage_l1_l2", dimension: voltage},
	VoltageL2L3:          {name: "voltage_l2_l3", dimension: voltage},
	VoltageL3L1:          {name: "voltage_l3_l1", dimension: voltage},
	Frequency:            {name: "frequency", dimension: frequency},
	DCPower:              {name: "dc_power", dimension: power},
	DCVoltage:            {name: "dc_voltage", dimension: voltage},
	DCCurrent:            {name: "dc_current", dimension: current},
	BatteryPower:         {name: "battery_power", dimension: power, directed: true},
	BatteryVoltage:       {name: "battery_voltage", dimension: voltage},
	BatteryCurrent:       {name: "battery_current", dimension: current, directed: true},
	SOC:                  {name: "soc", dimension: fraction},
	SOH:                  {name: "soh", dimension: fraction},
	EnergyImported:       {name: "energy_imported", dimension: energy, counter: true},
	EnergyExported:       {name: "energy_exported", dimension: energy, counter: true},
	Temperature:          {name: "temperature", dimension: temperature},
	OperatingState:       {name: "operating_state"},
	ChargeState:          {name: "charge_state"},
	RatedPower:           {name: "rated_power", dimension: power},
	RatedApparentPower:   {name: "rated_apparent_power", dimension: apparentPower},
	RatedCurrent:         {name: "rated_current", dimension: current},
	RatedChargePower:     {name: "rated_charge_power", dimension: power},
	RatedDischargePower:  {name: "rated_discharge_power", dimension: power},
	UsableCapacity:       {name: "usable_capacity", dimension: energy},
	ReserveSOC:           {name: "reserve_soc", dimension: fraction},
	ChargerCurrent:       {name: "charger_current", dimension: current},
	ChargerState:         {name: "charger_state"},
	OfferedCurrent:       {name: "offered_current", dimension: current},
	CheapSlot:            {name: "cheap_slot"},
	Price:                {name: "price"},
	TimeMS:               {name: "time_ms", dimension: milliseconds, counter: true},
	UnixTime:             {name: "unix_time", dimension: seconds, counter: true},
	LocalSecondOfDay:     {name: "local_second_of_day", dimension: seconds},
	LocalWeekday:         {name: "local_weekday"},
	ReversionLeft:        {name: "reversion_left", dimension: seconds},
	OutputReversionLeft:  {name: "output_reversion_left", dimension: seconds},
	Mode:                 {name: "mode"},
	Setpoint:             {name: "setpoint", dimension: power, directed: true},
	ChargeLimit:          {name: "charge_limit", dimension: power},
	DischargeLimit:       {name: "discharge_limit", dimension: power},
	OutputLimit:          {name: "output_limit", dimension: fraction},
	Connect:              {name: "connect"},
	Reserve:              {name: "reserve", dimension: fraction},
	Enable:               {name: "enable"},
	ReversionTime:        {name: "reversion_time", dimension: seconds},
	OutputReversionTime:  {name: "output_reversion_time", dimension: seconds},
	ConnectReversionTime: {name: "connect_reversion_time", dimension: seconds},
	MaxCurrent:           {name: "max_current", dimension: current},
	WaitMS:               {name: "wait_ms", dimension: milliseconds},
}

// String is the signal's name in maps and reports.
func (s Signal) String() string {
	if s >= NumSignals {
		return "none"
	}
	return signals[s].name
}

// Unit is the unit that the signal has inside; empty for fractions, states and plain numbers.
func (s Signal) Unit() string {
	if s >= NumSignals {
		return ""
	}
	return insideUnits[signals[s].dimension]
}

// IsFraction tells whether the signal is a fraction of one, which people read in percent.
func (s Signal) IsFraction() bool { return s < NumSignals && signals[s].dimension == fraction }

// IsCommand tells whether the signal can be written.
func (s Signal) IsCommand() bool { return s >= Mode && s < NumSignals }

// ParseSignal finds a signal by its name; the error for an unknown word says which name is nearest.
func ParseSignal(name string) (Signal, error) {
	for s := range NumSignals {
		if signals[s].name == name {
			return s, nil
		}
	}
	if close := nearest(name, SignalNames()); close != "" {
		return NoSignal, fmt.Errorf("unknown signal %q; did you mean %q?", name, close)
	}
	return NoSignal, fmt.Errorf("unknown signal %q", name)
}

// SignalNames lists the vocabulary in its own order.
func SignalNames() []string {
	names := make([]string, NumSignals)
	for s := range NumSignals {
		names[s] = signals[s].name
	}
	return names
}

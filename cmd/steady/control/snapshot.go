package control

import (
	"fmt"
	"math"
	"time"
)

// Reading is a measured value, or the knowledge that there is none.
type Reading struct {
	Value float64
	Known bool
}

// Known makes a reading of a value. A value that is not a finite number is not
// known.
func Known(v float64) Reading {
	return Reading{Value: v, Known: !math.IsNaN(v) && !math.IsInf(v, 0)}
}

// Unit is one battery inverter as the policy sees it.
type Unit struct {
	Name string

	Commanded    bool // the supervisor may narrow its band
	CanCharge    bool // a band above 0 W makes it charge
	CanDischarge bool // a band below 0 W makes it discharge

	ChargeMaxW    float64 // largest charging power [W]
	DischargeMaxW float64 // largest discharging power [W]
	CapacityWh    float64
	ReserveSOC    float64 // it does not discharge below this [1]

	Power Reading // AC power, charging positive [W]
	SOC   Reading // state of charge [1]
}

// Snapshot is the site at one poll.
type Snapshot struct {
	At           time.Duration // simulated time since the start
	Grid         Reading       // power at the inlet, import positive [W]
	ImportLimitW float64       // what the site may import [W]; 0 means no limit is known
	Cheap        bool          // the tariff's cheap slot is on
	Units        []Unit
}

// Band is the power within which an inverter may work [W, charging positive].
// {-5000, 5000} is free, {0, 5000} may only charge, {0, 0} holds still, and
// {2000, 2000} charges 2000 W whatever the native loop would do.
type Band struct {
	MinW float64
	MaxW float64
}

// String tells what a band means, for the log.
func (b Band) String() string {
	switch {
	case b.MinW == 0 && b.MaxW == 0:
		return "holds still"
	case b.MinW == b.MaxW && b.MinW > 0:
		return fmt.Sprintf("charges %.0f W", b.MinW)
	case b.MinW == b.MaxW:
		return fmt.Sprintf("discharges %.0f W", -b.MinW)
	case b.MinW >= 0:
		return fmt.Sprintf("only charges, up to %.0f W", b.MaxW)
	case b.MaxW <= 0:
		return fmt.Sprintf("only discharges, up to %.0f W", -b.MinW)
	}
	return fmt.Sprintf("may discharge %.0f W and charge %.0f W", -b.MinW, b.MaxW)
}

// or is the band that holds both bands.
func (b Band) or(other Band) Band {
	return Band{MinW: math.Min(b.MinW, other.MinW), MaxW: math.Max(b.MaxW, other.MaxW)}
}

// Command gives a unit a new band.
type Command struct {
	Unit string
	Band Band
	Why  string // in plain words, for the log
}

// free is the band of an inverter that nobody supervises.
func (u Unit) free() Band { return Band{MinW: -u.DischargeMaxW, MaxW: u.ChargeMaxW} }

// direction is which way the batteries work together.
type direction int

const (
	undecided   direction = 0
	charging    direction = 1
	discharging direction = -1
)

func (d direction) String() string {
	switch d {
	case charging:
		return "charging"
	case discharging:
		return "discharging"
	}
	return "undecided"
}

// along is the part of a battery power that flows in direction d; it is
// negative where the power flows the other way.
func (d direction) along(powerW float64) float64 { return float64(d) * powerW }

// directionOf is the direction of a battery power.
func directionOf(powerW float64) direction {
	if powerW > 0 {
		return charging
	}
	return discharging
}

// nearEndSOC is how close to full or to the reserve a battery may taper, so
// that its rating no longer says what it can do.
const nearEndSOC = 0.1

// At fullSOC a battery counts as full, and this close to its reserve as empty.
const (
	fullSOC  = 0.999
	emptySOC = 0.005
)

// ability is the power that the unit can give in a direction as far as its
// rating and its state of charge tell [W, not negative].
func (u Unit) ability(d direction) float64 {
	if !u.Power.Known {
		return 0
	}
	if d == charging {
		if u.SOC.Known && u.SOC.Value >= fullSOC {
			return 0
		}
		return u.ChargeMaxW
	}
	if u.SOC.Known && u.SOC.Value <= u.ReserveSOC+emptySOC {
		return 0
	}
	return u.DischargeMaxW
}

// drivable tells whether a band can make the unit work in a direction.
func (u Unit) drivable(d direction) bool {
	if d == charging {
		return u.CanCharge
	}
	return u.CanDischarge
}

// nearEnd tells whether the unit may taper in a direction.
func (u Unit) nearEnd(d direction) bool {
	if !u.SOC.Known {
		return false
	}
	if d == charging {
		return u.SOC.Value >= 1-nearEndSOC
	}
	return u.SOC.Value <= u.ReserveSOC+nearEndSOC
}

// exhausted tells whether the unit has no more to give in a direction.
func (u Unit) exhausted(d direction) bool {
	able := u.ability(d)
	return able <= 0 || d.along(u.Power.Value) >= 0.9*able
}

// within is the band in which the unit works in direction d only, up to a
// limit [W].
func (u Unit) within(d direction, limitW float64) Band {
	if d == charging {
		return Band{MinW: 0, MaxW: math.Min(limitW, u.ChargeMaxW)}
	}
	return Band{MinW: 0 - math.Min(limitW, u.DischargeMaxW), MaxW: 0}
}

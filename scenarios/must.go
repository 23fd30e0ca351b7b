package scenarios

import "time"

// Must is what must hold; what is nil is not judged.
type Must struct {
	Import          *Flow
	Export          *Flow
	Settle          *Settle
	Hunting         *Hunting
	Circulating     *Circulating
	SOCSpread       *Spread
	Reserve         *Reserve
	SupplyCurrent   *SupplyCurrent
	FuseHeating     *FuseHeating
	Schedule        *Schedule
	AvoidableImport *AvoidableEnergy
	AvoidableExport *AvoidableEnergy
	Wear            *Wear
	CommandEconomy  *CommandEconomy
	WireManners     *WireManners
	FailSafe        *FailSafe
	Recovery        *Recovery
	Reversion       *Reversion
	Formulas        []Formula // in the order of the file; each name is there once
}

// Flow limits the grid flow in one direction.
type Flow struct {
	BelowW   float64
	Except   time.Duration // how long at a time it may be exceeded
	EnergyWh *float64      // what may flow beyond it over the whole run; nil is not judged
}

// Settle asks grid flow to come into a band within a time after each
// disturbance.
type Settle struct {
	BandW      float64
	Within     time.Duration
	OvershootW *float64 // how far it may go beyond; nil is not judged
}

// Hunting limits what oscillation the batteries add.
type Hunting struct {
	BelowW     float64
	GoneWithin time.Duration
}

// Circulating limits what one battery gives for another to take.
type Circulating struct {
	BelowW   float64
	Except   time.Duration  // how long at a time it may be exceeded
	Episode  *time.Duration // how long an episode may be in all; nil is not judged
	EnergyWh *float64       // what may circulate over the whole run; nil is not judged
}

// Spread limits the distance between states of charge from a time on.
type Spread struct {
	Below float64 // share of the capacity, 0..1
	From  time.Duration
}

// Reserve asks that batteries keep what is meant for an outage.
type Reserve struct {
	Below  float64 // how far under it a battery may be discharged, as a share, 0..1
	Except time.Duration
}

// SupplyCurrent limits the current of each phase of the supply.
type SupplyCurrent struct {
	BelowA float64 // 0 stands for the main fuse's rating
	Except time.Duration
}

// FuseHeating limits how hot the main fuse may get.
type FuseHeating struct {
	Below float64 // share of what may melt it, 0..1
}

// Schedule asks that batteries are charged by the end of a window.
type Schedule struct {
	Target       float64 // state of charge, 0..1
	Missing      float64 // how much of it may be missing, as a share, 0..1
	During       *Window // nil makes each cheap window one
	ImportBelowW float64 // import that charging must leave alone; 0 stands for the supply's limit, if it has one
	Efficiency   float64 // share of AC energy that arrives; 0 stands for the worst of the site's batteries
}

// AvoidableEnergy limits the energy that crossed the inlet though the batteries could have
// kept it inside.
type AvoidableEnergy struct{ BelowWh float64 }

// Wear limits what a controller costs the batteries and inverters in life; what is nil is not
// judged.
type Wear struct {
	CyclesPerDay     *float64 // equivalent full cycles of a battery
	ReversalsPerHour *float64 // changes between charging and discharging
	ModeFlipsPerHour *float64
}

// CommandEconomy limits how much a controller writes.
type CommandEconomy struct {
	WritesPerHour *float64      // to each device; nil is not judged
	Gap           time.Duration // the least between two writes to a register; 0 is not judged
}

// WireManners limits what a controller does on the wire that it should not.
type WireManners struct {
	Exceptions, Illegal, Forbidden int     // how many are tolerated
	ReadsPerS                      float64 // of each device; 0 is not judged
	Over                           time.Duration
}

// FailSafe asks for a safe site when nobody steers it.
type FailSafe struct {
	BelowW float64 // battery power that is safe, in either direction
	Within time.Duration
	// An inverter is safe, whatever its power, once its own loop runs free, or under limits that force nothing.
	NativeIsSafe, NarrowedIsSafe bool
}

// Recovery asks for control again soon after the controller came back.
type Recovery struct {
	BandW        float64
	Within, Hold time.Duration
}

// Reversion asks that limits which were written with a time end when it is over.
type Reversion struct {
	Within  time.Duration // how much earlier or later
	Untimed *int          // limits that may be set without a time where there could be one; nil is not judged
}

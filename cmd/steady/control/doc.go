// Package control is a supervisory controller for two or more battery
// inverters behind one grid connection.
//
// Each inverter has a native loop, a sampled integrator with a period of about
// a second that drives the inverter's own meter to 0 W. The supervisor does not
// replace these loops by setpoints, because a setpoint that comes over a slow
// wire is always late. It only narrows, every ten seconds, the band of power in
// which each loop may work.
//
// Policy decides and is pure: it sees a Snapshot and answers Commands. All that
// touches the wire is elsewhere in the package, and the Modbus client itself is
// in link.go alone.
//
// Power is in W and flows into a battery when positive, so charging is positive
// and discharging is negative. Grid power is positive on import. State of
// charge is 0 to 1.
package control

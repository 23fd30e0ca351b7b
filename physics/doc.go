// Package physics is the plant: a site's grid connection, feeders, meters,
// battery inverters, PV arrays, loads and chargers, one step at a time.
//
// # Contract
//
// New makes a Plant of a Site, or says what is wrong with it. Step moves it by
// one tick of Site.StepMS. Everything else that moves the plant is a command to an
// inverter or a charger, or an Action, and takes effect in the next Step. The
// package is pure: it reads no clock, draws from no global source of
// randomness, starts no goroutine and does no input or output. Stepping
// allocates nothing. A Plant is not safe for concurrent use.
//
// # Sign
//
// There is one sign: power that flows INTO a device from the site is positive
// (load convention). A charging battery is positive, PV is negative. The flow
// through a feeder's inlet is the sum of all devices downstream of it, so grid
// flow is positive on import. The grid itself is no device.
//
// # Time
//
// Time is the tick times the step, never a running sum. Powers are known at
// the end of a tick (the values that meters sample) and as means over it (the
// values that energies are made of); both follow ramps and first-order lags
// exactly, so that 100 ms and 10 ms steps agree.
//
// # Order of a step
//
// Within a tick: the native loops sample what their meters told by the end of
// the tick before, inverters and chargers move, loads and sky move, feeders sum, meters
// sample and publish, batteries and energies are booked, the audit checks. A
// loop of period Ts on a meter refreshed every Ts without latency therefore acts
// on y[n] at u[n+1]: a delay of d = 0 samples.
//
// # Bit identity
//
// The same site, seed and commands give the same bits on every processor.
// Go may fuse x*y + z into one rounding on some of them, so each product that
// feeds a sum is fenced, float64(x*y) + z, and transcendental functions are the
// package's own (exact.go), since those of package math are assembly on some
// processors and fused on others.
package physics

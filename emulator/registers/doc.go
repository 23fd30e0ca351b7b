// Package registers translates between a device's values and the 16-bit registers that a controller sees over
// Modbus, and turns register writes into commands.
//
// Inside, one sign holds: power that flows INTO the device from the site is positive. So a charging battery is
// positive, PV is negative, and a meter is positive on import. Every map states its own signs and converts at
// this edge.
//
// A [Map] says what stands where and is shared by all devices that use it; an [Image] is one device's registers
// at run time. Maps come from two sources: chains of SunSpec models ([SunSpecMap] and the built-in chains) and
// declared maps ([ParseMap]), in which users describe their own device in YAML, one line a signal.
//
// An image holds the latest snapshot and encodes when it is read. A written register reads back the written
// value until [Image.Release] takes it away. An Image is not safe for use by several goroutines at once; a Map
// is.
//
// A point whose value is not known (NaN in the snapshot) reads as the value that its type reserves for that:
// 0x8000 for int16, 0xFFFF for uint16 and so on, NaN for floats, zero for accumulators. A value that does not
// fit is clipped to the nearest one that does, and never becomes a reserved value; a counter wraps.
package registers

// Package probe reads a device over Modbus TCP, real or emulated, and shows what it says. It never writes: the one
// file that reaches the wire sends the four functions that read (01 to 04) and the request for identification
// (2B/0E), and refuses all others.
//
// There are three ways to look at a device: [SunSpec] finds and walks its chain of models, [Signals] reads what a
// register map declares, and [Dump] shows bare registers.
//
// The peer is taken to be hostile: each reply has a deadline, a chain has a cap on its models and never goes back,
// and a count that a device states is believed only as far as the registers reach that it came with.
package probe

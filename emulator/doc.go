// Package emulator is the bench: it puts a scenario's site on Modbus, moves
// the plant behind it, and keeps what happened.
//
// # One tick
//
// There is one order, in Bench.tick: the scenario's events happen and the inbox
// is drained into the plant (latch), the plant moves (step), what it shows is the snapshot until
// the next tick (publish), and the observers see it (judge, record). The paces
// differ only in what makes the next tick come (wait).
//
// # Paces
//
//   - Stepped: simulated time moves only while the controller waits. It waits by
//     writing milliseconds to the bench clock's wait register; the reply comes when
//     that time has passed. Such runs are exact and repeatable bit for bit. The request
//     that completes the waits moves time itself, in its own goroutine.
//   - Real, and any positive number: simulated time follows the wall clock, so many times
//     as fast. The wait register works here too. How late steps began is measured.
//   - Follow: simulated time moves by a declared poll period when every controller has begun
//     its next poll, for controllers that know nothing of the bench. See rounds.
//   - Free: nobody is on the wire; time moves as fast as it can.
//
// # In process
//
// A Policy is a controller in the bench's own process: the bench polls it, and its Client reads and
// commands decoded values. Its requests are Modbus all the same, down to the record of the traffic, but go
// to the devices by a call and not by a socket. With Options.Inside there is no port at all.
//
// # Latching
//
// A register that was written reads back what was written at once. The command in
// it enters an inbox, which is drained at the next tick in the order of (controller,
// device, sequence), so that races on the wall clock change nothing.
package emulator

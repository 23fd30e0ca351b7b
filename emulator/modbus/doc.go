// Package modbus is the bench's Modbus TCP server: it frames, checks and
// counts, and leaves every value to a Device.
//
// # The seam
//
// The public library github.com/tbrandon/mbserver supplies the frame type, the
// exception values and the encoding of the eight classic functions (01 to 06,
// 0F, 10). It is used in pieces and in one file only, image.go: its own accept
// loop trusts its peers, which a bench must not. No exported name of this
// package mentions it, so that it can be replaced without a change elsewhere.
//
// Its handlers work on register slices from address 0. Each connection
// therefore owns one short image, as long as the largest request allows, and
// the window of a request is moved to the image's start while the handler
// runs. A thousand devices cost no register memory at all, and the last coil
// of the address space, which the library's range check forbids, can be read.
//
// # One request
//
// A connection has a goroutine of its own, so that a slow peer or a device
// call that blocks delays nobody else. A request passes these checks, and the
// first that fails decides the exception: unit (0B), function (01), length,
// quantity and value (03), address range (02). Only then does a handler or the
// Device see it. The source for the functions and the order is the MODBUS
// Application Protocol Specification V1.1b3 (2012), clauses 6 and 7; for the
// header it is the MODBUS Messaging on TCP/IP Implementation Guide V1.0b (2006),
// clause 3.1.3.
//
// Replies to requests that arrived together leave in one write. Before a call
// that the Device declares as blocking (see Blocker), everything that is ready
// is sent, and the connection is watched, so that a client that goes away
// closes Peer.Done and releases the call.
//
// # Choices where the standard leaves room
//
//   - A unit that is not served is answered with exception 0B (gateway target
//     failed to respond), on a server with one unit too: a client learns more
//     from it than from silence.
//   - Unit 0 and unit 255 address the only unit of a single-unit server.
//   - On a server with several units, a write (05, 06, 0F, 10, 16) to unit 0 is
//     a broadcast: executed by all units in ascending order, never answered.
//     Any other function on unit 0 is answered with 0B.
//   - A PDU that is longer or shorter than its function and quantity imply is
//     answered with 03.
//   - A protocol identifier other than 0 drops the frame without a reply; a
//     length field below 2 or above 254 closes the connection, because the
//     start of the next frame is unknown.
//   - Device identification (2B/0E) is streamed, not read object by object;
//     read device id code 04 is answered with 03.
//   - A client that half-closes its connection while a declared blocking call
//     waits counts as gone, and the call is released.
//   - Functions 11, 18 and 2B are refused with 01 for a device that offers
//     nothing for them.
//   - Function 17 reads its window once before the write, so that an address
//     that the device lacks is refused before anything has changed.
package modbus

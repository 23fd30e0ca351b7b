// Package modbus is the bench's Modbus server, on TCP and on serial lines: it
// frames, checks and counts, and leaves every value to a Device.
//
// # The seam
//
// The public library github.com/tbrandon/mbserver supplies the frame type, the
// exception values, the encoding of the eight classic functions (01 to 06, 0F,
// 10) and the RTU frame with its checksum. It is used in pieces and in one file
// only, image.go: its own accept loop trusts its peers, which a bench must not.
// No exported name of this package mentions it, so that it can be replaced
// without a change elsewhere.
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
// # Lines
//
// ListenRTU opens a pseudo-terminal, whose path a client opens as it would a
// serial port; ListenRTUOverTCP has a line on each TCP connection. All units
// share the line. The source is MODBUS over Serial Line V1.02 (2006). Requests
// become MBAP frames before they are checked, so that everything behind the
// framing is one piece of code, and a record of the traffic has one form.
//
// Silence is emulated as far as a host can. A reply waits for t3.5 after its
// request, on a pseudo-terminal. A frame ends where its function says it does,
// if the checksum agrees, because neither a pseudo-terminal nor TCP keeps the
// pauses between bytes; t1.5 is told by SilentIntervals and not enforced. Where
// the function tells no end, a pause of t3.5 may be the end and a pause of
// RTUOptions.Pause is. What makes no frame is dropped up to the next pause: a
// frame that lies inside broken bytes is never executed. As on a line, a bad
// checksum, another unit and a broadcast get no reply, and unit 0 is never a
// unit of its own.
//
// A pseudo-terminal stays when its client leaves. What that client has not read
// is dropped, as a serial port drops it, so that the next one does not get its
// predecessor's reply. It needs Linux.
//
// # Faults
//
// SetFault has a unit's replies delayed, dripped, spoiled or swallowed, from one
// request to the next. The request is carried out all the same. Delays pass on
// Options.Wait, so that they can cost simulated time.
//
// # Choices where the standard leaves room
//
//   - A unit that is not served is answered with exception 0B (gateway target
//     failed to respond), on a server with one unit too: a client learns more
//     from it than from silence.
//   - With Options.Gateway, such a unit is one to which no path is configured,
//     and is answered with 0A; 0B is for a unit that is served and stays silent
//     (ErrNoReply or a NoReply fault), after Options.TargetTimeout. A device that
//     closes or resets the connection still does so.
//   - Unit 0 and unit 255 address the only unit of a single-unit server, unless
//     it is a gateway or on a line.
//   - On a server with several units, and on a line, a write (05, 06, 0F, 10,
//     16) to unit 0 is a broadcast: executed by all units in ascending order,
//     never answered. Any other function on unit 0 is answered as a unit that is
//     not served, which on a line is not at all.
//   - A PDU that is longer or shorter than its function and quantity imply is
//     answered with 03.
//   - A protocol identifier other than 0 drops the frame without a reply; a
//     length field below 2 or above 254 closes the connection, because the
//     start of the next frame is unknown.
//   - ErrClose and ErrReset on a pseudo-terminal are silence.
//   - TLS is off unless Options.TLS is set. A handshake has FrameTimeout. The
//     roles that Modbus/TCP Security puts into certificates are not looked at.
//   - Device identification (2B/0E) is streamed, not read object by object;
//     read device id code 04 is answered with 03.
//   - A client that half-closes its connection while a declared blocking call
//     waits counts as gone, and the call is released.
//   - Functions 11, 18 and 2B are refused with 01 for a device that offers
//     nothing for them.
//   - Function 17 reads its window once before the write, so that an address
//     that the device lacks is refused before anything has changed.
package modbus

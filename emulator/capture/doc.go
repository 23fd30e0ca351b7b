// Package capture writes what went over the wire as a pcap file that packet analysers open.
//
// Only the Modbus frames are real. Ethernet, IPv4 and TCP around them are made up, since they
// depend on the host and on the wall clock: each served address becomes one of 127.0.0.2,
// 127.0.0.3 ... with port 502, by which analysers know Modbus/TCP; the client is 127.0.0.1, a second
// controller 127.1.0.1, a third 127.2.0.1 and so on, and its port counts its connections to that
// address from 49152. A connection begins with the
// handshake before its first request, and ends only where the server ends it. Checksums and
// sequence numbers are right.
//
// Time is simulated time, counted from the scenario's start. What happens at one instant is
// ordered so that equal runs give equal bytes however connections race on the wall clock: first
// the replies to what was asked earlier, then what was asked and answered at this instant by
// address, connection and sequence, then what is still to be answered.
package capture

package modbus

import (
	"errors"
	"fmt"
)

// Exception is a code of the MODBUS Application Protocol V1.1b3, clause 7. A
// Device returns it as an error.
type Exception uint8

// The exception codes of clause 7.
const (
	IllegalFunction        Exception = 0x01
	IllegalDataAddress     Exception = 0x02
	IllegalDataValue       Exception = 0x03
	ServerDeviceFailure    Exception = 0x04
	Acknowledge            Exception = 0x05
	ServerDeviceBusy       Exception = 0x06
	MemoryParity           Exception = 0x08
	GatewayPathUnavailable Exception = 0x0A
	GatewayTargetFailed    Exception = 0x0B
)

// String names the exception in the specification's words.
func (e Exception) String() string {
	switch e {
	case 0:
		return "no exception"
	case IllegalFunction:
		return "illegal function"
	case IllegalDataAddress:
		return "illegal data address"
	case IllegalDataValue:
		return "illegal data value"
	case ServerDeviceFailure:
		return "server device failure"
	case Acknowledge:
		return "acknowledge"
	case ServerDeviceBusy:
		return "server device busy"
	case MemoryParity:
		return "memory parity error"
	case GatewayPathUnavailable:
		return "gateway path unavailable"
	case GatewayTargetFailed:
		return "gateway target device failed to respond"
	}
	return "unassigned exception"
}

// Error makes an Exception an error.
func (e Exception) Error() string {
	return fmt.Sprintf("modbus exception %02X: %s", uint8(e), e.String())
}

// Errors with which a Device asks for something other than an exception reply.
var (
	// ErrClose answers nothing and closes the connection.
	ErrClose = errors.New("modbus: answer nothing and close the connection")
	// ErrReset answers nothing and resets the connection, as a device does that
	// loses power and comes back.
	ErrReset = errors.New("modbus: answer nothing and reset the connection")
	// ErrNoReply answers nothing and keeps the connection open.
	ErrNoReply = errors.New("modbus: answer nothing")
)

// RawReply is an error with which a Device has these bytes sent in place of a
// reply, for a link that delivers garbage. Joined with ErrClose or ErrReset it
// leaves before the connection ends.
type RawReply []byte

// Error makes a RawReply an error.
func (r RawReply) Error() string {
	return fmt.Sprintf("modbus: send %d raw bytes in place of a reply", len(r))
}

// exceptionOf finds the code to send for a device's error. An error that is no
// Exception is a failure of the device.
func exceptionOf(err error) Exception {
	exception, plain := err.(Exception)
	if !plain && !errors.As(err, &exception) {
		return ServerDeviceFailure
	}
	if exception == 0 {
		return ServerDeviceFailure
	}
	return exception
}

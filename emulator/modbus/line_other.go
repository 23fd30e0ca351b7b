//go:build !linux

package modbus

import (
	"errors"
	"net"
)

// line is a pseudo-terminal, which this system has no support for here.
type line struct{ net.Conn }

func openLine() (*line, error) {
	return nil, errors.New("modbus: RTU on a pseudo-terminal is for Linux; serve RTU over TCP instead")
}

func (*line) watch() {}

func (*line) greet() {}

func (*line) forget() {}

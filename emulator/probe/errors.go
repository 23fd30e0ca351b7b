package probe

import (
	"context"
	"errors"
	"fmt"
	"net"
	"strings"
	"syscall"
	"time"

	"kilter/emulator/modbus"
)

// What can become of a request beside a reply and an exception.
var (
	errSilent  = errors.New("no reply")
	errHungUp  = errors.New("the connection was closed in place of a reply")
	errGarbage = errors.New("the reply makes no sense")
)

// absent tells whether an exception says that the unit is not there, rather than something about the request.
func absent(e modbus.Exception) bool {
	return e == modbus.GatewayPathUnavailable || e == modbus.GatewayTargetFailed
}

// unreached says in words why no connection came about, and what to try.
func unreached(address string, timeout time.Duration, err error) error {
	var name *net.DNSError
	var slow net.Error
	switch {
	case errors.As(err, &name):
		return fmt.Errorf("%s: no host is called %s; try its numeric address", address, name.Name)
	case errors.Is(err, syscall.ECONNREFUSED):
		return fmt.Errorf("%s: connection refused: the host is there, and nothing listens on that port; "+
			"the usual port is 502, and many devices have Modbus TCP switched off until it is enabled in their settings", address)
	case errors.Is(err, syscall.EHOSTUNREACH), errors.Is(err, syscall.ENETUNREACH):
		return fmt.Errorf("%s: no route to the host; is it switched on and in this network?", address)
	case errors.As(err, &slow) && slow.Timeout():
		return fmt.Errorf("%s: no connection within %v; is the address right and the device switched on, and does no firewall stand between?", address, timeout)
	}
	return fmt.Errorf("%s: %w", address, err)
}

// explain says in words why a read failed, and what to try. Where is what was asked for.
func (l *Link) explain(where string, err error) error {
	var code modbus.Exception
	switch {
	case errors.As(err, &code) && absent(code):
		return fmt.Errorf("%s: no unit %d answers behind this address: %s; try another --unit "+
			"(1 to 247; devices on a gateway have one each)", l.handler.Address, l.unit, inWords(code))
	case errors.Is(err, errSilent) && !l.heard:
		return fmt.Errorf("%s: connected, and %w to unit %d: many devices ignore a unit that is not theirs, so try another --unit; "+
			"others serve one client at a time, so close what else is connected", l.handler.Address, err, l.unit)
	case errors.Is(err, errHungUp) && !l.heard:
		return fmt.Errorf("%s: %w: is this a Modbus device, and is unit %d right? Some devices serve one client at a time", l.handler.Address, err, l.unit)
	case errors.Is(err, errGarbage) && !l.heard:
		return fmt.Errorf("%s: %w: is this a Modbus device?", l.handler.Address, err)
	case errors.Is(err, context.Canceled):
		return fmt.Errorf("%s: %s: interrupted", l.handler.Address, where)
	case errors.Is(err, context.DeadlineExceeded):
		return fmt.Errorf("%s: %s: the device is too slow, time is up; read less of it, or give more time by --within", l.handler.Address, where)
	}
	return fmt.Errorf("%s: %s: %s", l.handler.Address, where, inWords(err))
}

// inWords is an exception or failure in short.
func inWords(err error) string {
	var code modbus.Exception
	if errors.As(err, &code) {
		return fmt.Sprintf("exception %02X (%s)", uint8(code), code.String())
	}
	return err.Error()
}

// answered tells whether the unit answered, if only with an exception.
func answered(err error) bool {
	var code modbus.Exception
	return err == nil || errors.As(err, &code) && !absent(code)
}

// attempt is what was found at one place where a chain may start.
type attempt struct {
	base  uint16
	found string
}

// notSunSpec says what was found at each base.
func notSunSpec(address string, tried []attempt) error {
	var found []string
	for _, a := range tried {
		found = append(found, fmt.Sprintf("at %d %s", a.base, a.found))
	}
	return fmt.Errorf(`%s: not a SunSpec device: the marker "SunS" stands at none of the usual places (%s); `+
		"if you have its register list, read it by --map FILE, or look at bare registers by --dump holding:0-99", address, strings.Join(found, ", "))
}

// printable makes a device's text safe to print on a terminal.
func printable(text []byte) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' || r > '~' {
			return '?'
		}
		return r
	}, string(text))
}

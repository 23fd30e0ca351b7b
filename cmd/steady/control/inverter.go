package control

import "time"

// inverter is a battery inverter behind its map.
type inverter interface {
	// connect learns what must be known before the first poll.
	connect(b bus) error

	// poll reads power and state of charge into the unit.
	poll(b bus, u *Unit) error

	// limit makes the inverter work within a band. A device that can forget it
	// does so after the lease.
	limit(b bus, band Band, u Unit) error

	// kept tells whether the last poll has shown that the band still holds.
	kept(band Band, u Unit) bool

	// lease is how long the device keeps a limit; 0 means without end.
	lease() time.Duration
}

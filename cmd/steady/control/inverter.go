package control

import "time"

// inverter is a battery inverter behind its map.
type inverter interface {
	// connect learns what must be known before the first poll.
	connect(b Bus) error

	// poll reads power and state of charge into the unit.
	poll(b Bus, u *Unit) error

	// limit makes the inverter work within a band. A device that can forget it
	// does so after the lease.
	limit(b Bus, band Band, u Unit) error

	// renew writes again what the device would forget.
	renew(b Bus, band Band, u Unit) error

	// kept tells whether the last poll has shown that the band still holds.
	kept(band Band, u Unit) bool

	// lease is how long the device keeps a band; 0 means without end.
	lease(band Band) time.Duration
}

// forcedShare is the part of the lease that a forced band gets. Charging that
// nobody watches any more could blow the main fuse; a blocked direction cannot.
const forcedShare = 5

// forced tells whether a band makes the unit work whatever its loop would do.
func (band Band) forced() bool { return band.MinW > 0 || band.MaxW < 0 }

// leaseOf is how long a device is asked to keep a band, in whole seconds.
func leaseOf(band Band, lease time.Duration) time.Duration {
	if band.forced() && lease > 0 {
		return max(lease/forcedShare, time.Second).Round(time.Second)
	}
	return lease
}

package registers

// Settings are what a device is set to by its maker or installer, as far as a SunSpec chain tells it. What is zero is
// not told.
type Settings struct {
	// NominalV is the voltage between a conductor and neutral, NominalHz the frequency.
	NominalV, NominalHz float64
	// RampWps is the fastest change of power [W/s].
	RampWps float64
	// ChargeAh is the battery's charge between empty and full [Ah].
	ChargeAh float64
	// HasPV says that PV stands on the device's DC side, beside its battery.
	HasPV        bool
	EnterService EnterService
	// VoltVar is reactive power over voltage, positive where the device absorbs; VoltWatt the largest injection.
	VoltVar, VoltWatt Characteristic
	Droop             Droop
	// Trips says that an interface protection watches voltage and frequency.
	Trips bool
}

// EnterService says when a device may connect: within both windows for the delay, with a ramp to full power after it.
type EnterService struct {
	// LowV and HighV are shares of the nominal voltage.
	LowV, HighV, LowHz, HighHz float64
	DelayS, RampS              float64
}

// maxCharacteristic is how many points a characteristic can have.
const maxCharacteristic = 10

// Characteristic is a share of the rating over voltage as a share of the nominal one, by points in ascending voltage.
// It is a value, since maps share the layouts of devices that are set alike.
type Characteristic struct {
	Count     int
	V, Y      [maxCharacteristic]float64
	ResponseS float64
}

// Add appends a point. Points beyond the tenth are left out.
func (c *Characteristic) Add(v, y float64) {
	if c.Count < maxCharacteristic {
		c.V[c.Count], c.Y[c.Count] = v, y
		c.Count++
	}
}

// Droop is a change of active power with frequency: beyond a deadband on each side of the nominal frequency, the
// whole rating over a relative change of frequency. A droop of 0 switches its side off.
type Droop struct {
	UnderHz, OverHz       float64 // deadbands [Hz]
	UnderDroop, OverDroop float64 // [1 of the nominal frequency]
	ResponseS             float64
}

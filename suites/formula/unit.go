package formula

// Unit is what a signal is measured in; quantities in a formula may use its multiples.
type Unit string

// The units of signals.
const (
	Number Unit = ""   // a share, a state or a count; % is a hundredth
	Watt   Unit = "W"  // power
	WattH  Unit = "Wh" // energy
	Ampere Unit = "A"
	Volt   Unit = "V"
	Hertz  Unit = "Hz"
	Second Unit = "s"
)

// multiple is a unit as a formula may write it.
type multiple struct {
	unit  Unit
	times float64
}

var multiples = map[string]multiple{
	"%": {Number, 0.01},
	"W": {Watt, 1}, "kW": {Watt, 1000},
	"Wh": {WattH, 1}, "kWh": {WattH, 1000},
	"A": {Ampere, 1}, "mA": {Ampere, 0.001},
	"V": {Volt, 1}, "kV": {Volt, 1000},
	"Hz": {Hertz, 1}, "mHz": {Hertz, 0.001},
	"s": {Second, 1}, "ms": {Second, 0.001}, "min": {Second, 60}, "h": {Second, 3600},
}

// named is a unit in a message.
func (u Unit) named() string {
	if u == Number {
		return "a plain number"
	}
	return string(u)
}

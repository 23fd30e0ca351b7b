package scenarios

import (
	"time"

	"kilter/physics"
)

// Site is what is wired where: the plant's parameters, and for each device its
// name, its place and how it answers on the wire.
type Site struct {
	Name    string
	Title   string
	Plant   physics.Site // the tree of feeders is in Plant.Feeders
	Devices []Device     // in the order of the wiring tree; meters are devices too
	Source  string       // the file that it was read from, for messages
}

// DeviceKind says in which list of the plant a device is found.
type DeviceKind uint8

// The kinds of device.
const (
	Inverter DeviceKind = iota
	Meter
	Array
	Load
	Charger
	Tariff
)

var kindNames = [...]string{"inverter", "meter", "array", "load", "charger", "tariff"}

// String gives the kind's word in a site file.
func (k DeviceKind) String() string { return kindNames[k] }

// Device is one device of a site.
type Device struct {
	Name   string
	Kind   DeviceKind
	Index  int    // in the plant's list of this kind; 0 for a tariff signal, which the plant does not know
	Feeder string // the feeder that it is wired to
	Wire   *Wire  // nil: it does not answer on the wire
}

// Wire says how a device answers on Modbus.
type Wire struct {
	// Map is "sunspec", the name of a built-in declared map, or the path of a map's
	// file, already joined with the folder of the site file that names it.
	Map          string
	Unit         byte          // unit id, 1 to 247
	Sign         string        // overrides the map's sign; empty leaves it as the map states it
	Base         int           // first register of a SunSpec chain
	ReplyTimeout time.Duration // what a client waits for an answer that does not come
	Refresh      time.Duration // how often it takes a snapshot for its registers; 0: they show each instant
	Clients      int           // how many it serves at once; 0 sets no limit
	Gap          time.Duration // from an answer to the next request, which is answered with exception 06 if it comes sooner
	Slow         time.Duration // what each reply takes
	Endurance    int           // writes that each register takes; 0 sets no limit
	Link         Link          // how it is reached
	Shared       string        // the name of the line or gateway that it shares; empty for an address of its own
	File         string        // where it is said, for messages: a variant's wires stand in its base
	Line         int
}

// Link is the way in which a device is reached.
type Link uint8

// The ways. All but the first can be shared by several units.
const (
	OwnAddress Link = iota // Modbus TCP at an address of its own
	Gateway                // Modbus TCP behind a gateway's address
	RTULine                // Modbus RTU on a pseudo-terminal
	RTUOverTCP             // Modbus RTU on a TCP connection
)

// String gives the key of a wire that asks for it.
func (l Link) String() string { return [...]string{"", "gateway", "rtu_line", "rtu_over_tcp"}[l] }

// The overriding signs of a wire.
const (
	ChargingPositive    = "charging positive"
	DischargingPositive = "discharging positive"
	ImportPositive      = "import positive"
	ExportPositive      = "export positive"
)

// Find returns the device of that name.
func (s *Site) Find(name string) (Device, bool) {
	for _, d := range s.Devices {
		if d.Name == name {
			return d, true
		}
	}
	return Device{}, false
}

package registers

import (
	"fmt"
	"slices"
	"sync"
)

// Table is one of the four Modbus address spaces.
type Table uint8

// The tables.
const (
	Holding Table = iota
	Input
	Coil
	Discrete
	numTables
)

var tableNames = [...]string{"holding", "input", "coil", "discrete"}

func (t Table) String() string { return tableNames[t] }

// ParseTable finds a table by its word.
func ParseTable(name string) (Table, error) {
	if t := slices.Index(tableNames[:], name); t >= 0 {
		return Table(t), nil
	}
	return 0, fmt.Errorf("no table %q; there are %s", name, alternatives(tableNames[:]))
}

// isBits tells whether the table holds single bits.
func (t Table) isBits() bool { return t == Coil || t == Discrete }

// Point is one value in a map, wholly resolved: a value inside is Sign x (raw x Scale + Offset).
type Point struct {
	// Name is the signal's name, with the label after a slash where the map has one, or a SunSpec model and
	// point such as "103.W".
	Name   string
	Signal Signal
	Table  Table
	// Address is zero-based, as on the wire.
	Address   uint16
	Type      Type
	Registers uint16
	// Scale and Offset lead from the raw number to inside units; a scale is never negative.
	Scale, Offset float64
	// Sign is -1 where the register counts power or current out of the device as positive, else 1.
	Sign float64
	// OneWay points show only the direction in which their sign counts, and zero in the other.
	OneWay bool
	// Magnitude points show the value without its sign.
	Magnitude bool
	// Counter points wrap where other points clip.
	Counter bool
	// Words name raw values; empty for a quantity.
	Words    []Word
	Writable bool
	// Min and Max bound what may be written, in inside units but before Sign. They hold where HasRange is set.
	Min, Max float64
	HasRange bool
	// Lasts is how many seconds a written value is obeyed; 0 is until it is written again.
	Lasts float64
	// Timer names the point that holds Lasts at run time; empty where there is none.
	Timer string
	// Needs is the condition without which a write is stored but not obeyed; Also is another one beside it, by which a
	// selector chooses between points that command the same.
	Needs, Also *Need
	// Reversion is what a command falls back to when its time is over; nil where it is released.
	Reversion *Reversion
	// Absent is the raw value that says "not known".
	Absent uint64
	// Fixed is the content of a point that never changes, or the opening content of a writable point that has
	// no signal.
	Fixed []uint16
	// Text says which of the device's texts stands here; NoText for numbers.
	Text TextField
	// ShowsUnit says that the device's Modbus unit stands here.
	ShowsUnit bool
	// derive computes what no single signal holds; it overrules Signal when reading.
	derive func(*Values) float64
}

// Word names one raw value of an enumeration, and its value inside.
type Word struct {
	Raw   uint64
	Word  string
	Value float64
}

// Need is a condition on another register: its bits under Mask are equal to Raw.
type Need struct {
	Point     string
	Mask, Raw uint64
	// Ends says that the bits are cleared when the command that needs them is released.
	Ends bool
}

// Reversion names the point that holds the raw value to fall back to, and the point whose lowest bit enables that.
type Reversion struct{ Value, Enable string }

// excludes tells whether a selector lets only one of two points command at a time.
func (p *Point) excludes(other *Point) bool {
	a, b := p.Also, other.Also
	return a != nil && b != nil && a.Point == b.Point && a.Mask == b.Mask && a.Raw != b.Raw
}

// TextField is one of the texts of a device.
type TextField uint8

// The texts.
const (
	NoText TextField = iota
	MakerText
	ModelText
	VersionText
	SerialText
)

var textNames = [...]string{NoText: "", MakerText: "maker", ModelText: "model", VersionText: "version", SerialText: "serial"}

func (t TextField) String() string { return textNames[t] }

// SignChoice settles the sign where the standard leaves it open.
type SignChoice uint8

// The choices.
const (
	// SignDefault takes the usual reading: an inverter counts generation and discharge as positive, a meter
	// counts import as positive.
	SignDefault SignChoice = iota
	// SignInto counts power into the device, and import, as positive.
	SignInto
	// SignOutOf counts power out of the device, and export, as positive.
	SignOutOf
)

// AtZero as Options.Base puts a SunSpec chain at register 0.
const AtZero = -1

// Ratings are a device's nameplate. A rating left zero is not known; SunSpec points that are a percentage of it
// are then not there.
type Ratings struct {
	PowerW, ApparentPowerVA, CurrentA float64
	ChargePowerW, DischargePowerW     float64
	CapacityWh                        float64
}

// Options are what tells one device from the next of the same map.
type Options struct {
	// Sign applies to SunSpec chains; a declared map states its own signs.
	Sign SignChoice
	// Base is the first register of a SunSpec chain; 0 means 40000, and AtZero means register 0.
	Base int
	// Unit is the Modbus unit that a SunSpec chain reports as its device address; 0 reports 1.
	Unit uint8
	// Ratings choose the scale factors of a SunSpec chain, and stand in for rated signals that a snapshot lacks.
	Ratings Ratings
	// Settings are told by a SunSpec chain where it has a place for them.
	Settings Settings
	// Maker, Model, Version and Serial default to "kilter bench", the map's name, "1" and "1".
	Maker, Model, Version, Serial string
}

// Map says which values of a device stand in which registers. It never changes after it is made.
type Map struct {
	Name string
	// Points are in order of table and address. For a SunSpec chain they are those of a 15 kW device at the
	// default base, since scale factors follow the ratings.
	Points []Point
	Order  Order
	// GapsReadZero makes the addresses between the first and the last point of a table read as zero; otherwise
	// they are refused.
	GapsReadZero bool

	// resolve makes the points of a SunSpec chain; nil for a declared map.
	resolve func(layoutKey) []Point
	// models are a SunSpec chain's.
	models []uint16

	mu      sync.Mutex
	layouts map[layoutKey]*layout
}

// layoutKey is the part of Options that shapes registers.
type layoutKey struct {
	ratings  Ratings
	settings Settings
	sign     SignChoice
	base     int
}

// layout returns the shared layout for the options, and makes it at the first call.
func (m *Map) layout(opt Options) *layout {
	key := layoutKey{}
	if m.resolve != nil {
		key = layoutKey{opt.Ratings, opt.Settings, opt.Sign, opt.Base}
	}
	m.mu.Lock()
	defer m.mu.Unlock()
	if l := m.layouts[key]; l != nil {
		return l
	}
	points := m.Points
	if m.resolve != nil {
		points = m.resolve(key)
	}
	l := newLayout(points, m.Order, m.GapsReadZero)
	if m.layouts == nil {
		m.layouts = make(map[layoutKey]*layout)
	}
	m.layouts[key] = l
	return l
}

// Check tells whether a device can have the options: whether its registers end by 65535, and whether its ratings
// are finite and not negative.
func (m *Map) Check(opt Options) error {
	r := opt.Ratings
	for _, x := range [...]float64{r.PowerW, r.ApparentPowerVA, r.CurrentA, r.ChargePowerW, r.DischargePowerW, r.CapacityWh} {
		if !(x >= 0 && x < 1e12) {
			return fmt.Errorf("%s: rating %g is not a number from 0 to 1e12", m.Name, x)
		}
	}
	if m.resolve == nil {
		return nil
	}
	// The settings may fill groups that repeat, so that the size is the device's own. It is measured at the default base.
	span := m.layout(Options{Ratings: opt.Ratings, Settings: opt.Settings}).tables[Holding]
	size := int(span.high - span.low)
	if opt.Base < AtZero || opt.Base+size > 1<<16 {
		return fmt.Errorf("%s: %d registers from base %d do not fit below 65536", m.Name, size, opt.Base)
	}
	return nil
}

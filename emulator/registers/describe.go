package registers

import "fmt"

// Description tells a controller how to decode a device's registers, without a parser for map files.
//
// The value inside is sign x (raw x scale + offset), where raw is read from the registers in the point's word
// and byte order (a bit has neither); a raw value equal to unknown means that the device does not know. Where
// words are given, the raw value is looked up there instead.
type Description struct {
	Map       string             `json:"map"`
	WordOrder string             `json:"word_order"`
	ByteOrder string             `json:"byte_order"`
	Gaps      string             `json:"gaps"`
	Points    []PointDescription `json:"points"`
}

// PointDescription is one point of a Description.
type PointDescription struct {
	Name   string `json:"name"`
	Signal string `json:"signal"`
	Table  string `json:"table"`
	// Address is zero-based, as on the wire.
	Address   uint16  `json:"address"`
	Registers uint16  `json:"registers"`
	Type      string  `json:"type"`
	Scale     float64 `json:"scale"`
	Offset    float64 `json:"offset,omitempty"`
	// Unit is what the decoded value has; empty for fractions, states and plain numbers.
	Unit string `json:"unit,omitempty"`
	// Sign is 1 or -1; the decoded value is positive for power into the device, and for import.
	Sign int `json:"sign"`
	// OneWay points show one direction only, and zero in the other; the value is the sum over such points.
	OneWay bool `json:"one_way,omitempty"`
	// Magnitude points show no direction.
	Magnitude bool `json:"magnitude,omitempty"`
	// Counter points wrap.
	Counter bool             `json:"counter,omitempty"`
	Access  string           `json:"access"`
	Min     *float64         `json:"min,omitempty"`
	Max     *float64         `json:"max,omitempty"`
	LastsS  float64          `json:"lasts_s,omitempty"`
	Needs   *NeedDescription `json:"needs,omitempty"`
	// AlsoNeeds is a second condition: a selector that chooses between points that command the same.
	AlsoNeeds *NeedDescription  `json:"also_needs,omitempty"`
	Unknown   string            `json:"unknown,omitempty"`
	Words     []WordDescription `json:"words,omitempty"`
	// TimerAddress is the holding register that says how many seconds a written value lasts.
	TimerAddress *uint16 `json:"timer_address,omitempty"`
}

// NeedDescription is the register, and its bits under a mask, that a write needs in order to be obeyed.
type NeedDescription struct {
	Table   string `json:"table"`
	Address uint16 `json:"address"`
	Mask    uint64 `json:"mask"`
	Raw     uint64 `json:"raw"`
}

// WordDescription is one value of an enumeration.
type WordDescription struct {
	Raw   uint64  `json:"raw"`
	Word  string  `json:"word"`
	Value float64 `json:"value"`
}

// Describe returns the resolved points that carry signals or texts. For a SunSpec chain they are those of a
// 15 kW device; ask the device's image where its own scale factors matter.
func (m *Map) Describe() Description { return describe(m.Name, m.Points, m.Order, m.GapsReadZero) }

// Describe returns the resolved points of this device.
func (im *Image) Describe() Description {
	return describe(im.name, im.layout.points, im.layout.order, im.layout.gapsReadZero)
}

func describe(name string, points []Point, order Order, gapsReadZero bool) Description {
	d := Description{Map: name, WordOrder: "high word first", ByteOrder: "high byte first", Gaps: "refuse",
		Points: []PointDescription{}}
	if order.LowWordFirst {
		d.WordOrder = "low word first"
	}
	if order.LowByteFirst {
		d.ByteOrder = "low byte first"
	}
	if gapsReadZero {
		d.Gaps = "read as 0"
	}
	byName := make(map[string]*Point, len(points))
	for i := range points {
		byName[points[i].Name] = &points[i]
	}
	for i := range points {
		if p := &points[i]; p.Signal != NoSignal || p.Text != NoText {
			d.Points = append(d.Points, p.describe(byName))
		}
	}
	return d
}

func (p *Point) describe(byName map[string]*Point) PointDescription {
	d := PointDescription{
		Name: p.Name, Signal: p.Signal.String(), Table: p.Table.String(), Address: p.Address,
		Registers: p.Registers, Type: p.Type.String(), Scale: p.Scale, Offset: p.Offset, Unit: p.Signal.Unit(),
		Sign: int(p.Sign), OneWay: p.OneWay, Magnitude: p.Magnitude, Counter: p.Counter, Access: "read",
		LastsS: p.Lasts,
	}
	if p.Text != NoText {
		d.Signal = p.Text.String()
		return d
	}
	if p.Type != Bit && !p.Counter {
		d.Unknown = fmt.Sprintf("0x%0*X", 4*p.Registers, p.Absent)
	}
	if p.Writable {
		d.Access = "read and write"
	}
	if p.HasRange {
		low, high := p.Sign*p.Min, p.Sign*p.Max
		low, high = min(low, high)+0, max(low, high)+0
		d.Min, d.Max = &low, &high
	}
	d.Needs, d.AlsoNeeds = p.Needs.describe(byName), p.Also.describe(byName)
	if p.Timer != "" {
		d.TimerAddress = &byName[p.Timer].Address
	}
	for _, w := range p.Words {
		d.Words = append(d.Words, WordDescription(w))
	}
	return d
}

func (n *Need) describe(byName map[string]*Point) *NeedDescription {
	if n == nil {
		return nil
	}
	enable := byName[n.Point]
	return &NeedDescription{enable.Table.String(), enable.Address, n.Mask, n.Raw}
}

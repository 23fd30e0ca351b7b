package sunspec

import "slices"

// Marker is the pair of registers, "SunS" in ASCII, that opens every chain of models.
var Marker = [2]uint16{0x5375, 0x6E53}

// EndModel is the id of the model that closes a chain; its length is zero.
const EndModel = 0xFFFF

// HeaderRegisters is the size of the id and length points that open every model; the length register does
// not count them.
const HeaderRegisters = 2

// Type is a point's type as the standard names it.
type Type string

// The types that the models at hand use.
const (
	Int16      Type = "int16"
	Uint16     Type = "uint16"
	Int32      Type = "int32"
	Uint32     Type = "uint32"
	Int64      Type = "int64"
	Uint64     Type = "uint64"
	Acc16      Type = "acc16"
	Acc32      Type = "acc32"
	Acc64      Type = "acc64"
	Enum16     Type = "enum16"
	Enum32     Type = "enum32"
	Bitfield16 Type = "bitfield16"
	Bitfield32 Type = "bitfield32"
	Float32    Type = "float32"
	Float64    Type = "float64"
	String     Type = "string"
	Scale      Type = "sunssf"
	Pad        Type = "pad"
	IPAddr     Type = "ipaddr"
	IPv6Addr   Type = "ipv6addr"
	EUI48      Type = "eui48"
)

// Symbol names one value of an enumeration, or one bit of a bitfield.
type Symbol struct {
	Name  string
	Value uint32
}

// Point is one point of a model.
type Point struct {
	Name string
	// Offset counts registers from the start of the point's group; the model's id is at offset 0.
	Offset uint16
	Type   Type
	// Size is in registers.
	Size uint16
	// ScaleFactor names the point that holds the power of ten; empty where the point has none.
	ScaleFactor string
	Unit        string
	Writable    bool
	Mandatory   bool
	Symbols     []Symbol
}

// Group is a run of points that may repeat. The groups inside it follow its own points.
type Group struct {
	Name string
	// Count names the point that says how often the group repeats; empty means once.
	Count  string
	Points []Point
	Groups []Group
}

// Registers is the size of one repetition of the group's own points, without the groups inside it.
func (g *Group) Registers() uint16 {
	if len(g.Points) == 0 {
		return 0
	}
	last := g.Points[len(g.Points)-1]
	return last.Offset + last.Size
}

// Model is one information model.
type Model struct {
	ID uint16
	Group
}

// Length is the value of the model's length register when each repeating group stands as often as counts
// says, by the name of the count point; a name that is missing counts as zero.
func (m *Model) Length(counts map[string]uint16) int {
	return registers(&m.Group, counts) - HeaderRegisters
}

func registers(g *Group, counts map[string]uint16) int {
	total := int(g.Registers())
	for i := range g.Groups {
		sub := &g.Groups[i]
		times := 1
		if sub.Count != "" {
			times = int(counts[sub.Count])
		}
		total += times * registers(sub, counts)
	}
	return total
}

// Find returns the model with the given id, or nil where the tables have none.
func Find(id uint16) *Model {
	i, found := slices.BinarySearchFunc(models, id, func(m *Model, id uint16) int { return int(m.ID) - int(id) })
	if !found {
		return nil
	}
	return models[i]
}

// IDs lists the models at hand in ascending order.
func IDs() []uint16 {
	ids := make([]uint16, len(models))
	for i, m := range models {
		ids[i] = m.ID
	}
	return ids
}

// Unimplemented returns the registers that a device shows for a point that it does not have.
func Unimplemented(t Type, size uint16) []uint16 {
	words := make([]uint16, size)
	switch t {
	case Int16, Scale, Int32, Int64:
		words[0] = 0x8000
	case Uint16, Enum16, Bitfield16, Uint32, Enum32, Bitfield32, Uint64:
		for i := range words {
			words[i] = 0xFFFF
		}
	case Float32:
		words[0] = 0x7FC0
	case Float64:
		words[0] = 0x7FF8
	case EUI48:
		copy(words, []uint16{0, 0xFFFF, 0xFFFF, 0xFFFF})
	}
	return words
}

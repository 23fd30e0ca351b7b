// Code generated from the SunSpec model definitions by emulator/registers/internal/gen; DO NOT EDIT.

package sunspec

var model703 = Model{ID: 703, Group: Group{Name: "DEREnterService", Points: []Point{
	{Name: "ID", Offset: 0, Type: "uint16", Size: 1, Mandatory: true},
	{Name: "L", Offset: 1, Type: "uint16", Size: 1, Mandatory: true},
	{Name: "ES", Offset: 2, Type: "enum16", Size: 1, Writable: true, Symbols: []Symbol{{"DISABLED", 0}, {"ENABLED", 1}}},
	{Name: "ESVHi", Offset: 3, Type: "uint16", Size: 1, ScaleFactor: "V_SF", Unit: "Pct", Writable: true},
	{Name: "ESVLo", Offset: 4, Type: "uint16", Size: 1, ScaleFactor: "V_SF", Unit: "Pct", Writable: true},
	{Name: "ESHzHi", Offset: 5, Type: "uint32", Size: 2, ScaleFactor: "Hz_SF", Unit: "Hz", Writable: true},
	{Name: "ESHzLo", Offset: 7, Type: "uint32", Size: 2, ScaleFactor: "Hz_SF", Unit: "Hz", Writable: true},
	{Name: "ESDlyTms", Offset: 9, Type: "uint32", Size: 2, Unit: "Secs", Writable: true},
	{Name: "ESRndTms", Offset: 11, Type: "uint32", Size: 2, Unit: "Secs", Writable: true},
	{Name: "ESRmpTms", Offset: 13, Type: "uint32", Size: 2, Unit: "Secs", Writable: true},
	{Name: "ESDlyRemTms", Offset: 15, Type: "uint32", Size: 2, Unit: "Secs"},
	{Name: "V_SF", Offset: 17, Type: "sunssf", Size: 1},
	{Name: "Hz_SF", Offset: 18, Type: "sunssf", Size: 1},
}}}

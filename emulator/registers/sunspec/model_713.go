// Code generated from the SunSpec model definitions by emulator/registers/internal/gen; DO NOT EDIT.

package sunspec

var model713 = Model{ID: 713, Group: Group{Name: "DERStorageCapacity", Points: []Point{
	{Name: "ID", Offset: 0, Type: "uint16", Size: 1, Mandatory: true},
	{Name: "L", Offset: 1, Type: "uint16", Size: 1, Mandatory: true},
	{Name: "WHRtg", Offset: 2, Type: "uint16", Size: 1, ScaleFactor: "WH_SF", Unit: "WH"},
	{Name: "WHAvail", Offset: 3, Type: "uint16", Size: 1, ScaleFactor: "WH_SF", Unit: "WH"},
	{Name: "SoC", Offset: 4, Type: "uint16", Size: 1, ScaleFactor: "Pct_SF", Unit: "Pct"},
	{Name: "SoH", Offset: 5, Type: "uint16", Size: 1, ScaleFactor: "Pct_SF", Unit: "Pct"},
	{Name: "Sta", Offset: 6, Type: "enum16", Size: 1, Symbols: []Symbol{{"OK", 0}, {"WARNING", 1}, {"ERROR", 2}}},
	{Name: "WH_SF", Offset: 7, Type: "sunssf", Size: 1},
	{Name: "Pct_SF", Offset: 8, Type: "sunssf", Size: 1},
}}}

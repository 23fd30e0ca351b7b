// Code generated from the SunSpec model definitions by emulator/registers/internal/gen; DO NOT EDIT.

package sunspec

var model120 = Model{ID: 120, Group: Group{Name: "nameplate", Points: []Point{
	{Name: "ID", Offset: 0, Type: "uint16", Size: 1, Mandatory: true},
	{Name: "L", Offset: 1, Type: "uint16", Size: 1, Mandatory: true},
	{Name: "DERTyp", Offset: 2, Type: "enum16", Size: 1, Mandatory: true, Symbols: []Symbol{{"PV", 4}, {"PV_STOR", 82}}},
	{Name: "WRtg", Offset: 3, Type: "uint16", Size: 1, ScaleFactor: "WRtg_SF", Unit: "W", Mandatory: true},
	{Name: "WRtg_SF", Offset: 4, Type: "sunssf", Size: 1, Mandatory: true},
	{Name: "VARtg", Offset: 5, Type: "uint16", Size: 1, ScaleFactor: "VARtg_SF", Unit: "VA", Mandatory: true},
	{Name: "VARtg_SF", Offset: 6, Type: "sunssf", Size: 1, Mandatory: true},
	{Name: "VArRtgQ1", Offset: 7, Type: "int16", Size: 1, ScaleFactor: "VArRtg_SF", Unit: "var", Mandatory: true},
	{Name: "VArRtgQ2", Offset: 8, Type: "int16", Size: 1, ScaleFactor: "VArRtg_SF", Unit: "var", Mandatory: true},
	{Name: "VArRtgQ3", Offset: 9, Type: "int16", Size: 1, ScaleFactor: "VArRtg_SF", Unit: "var", Mandatory: true},
	{Name: "VArRtgQ4", Offset: 10, Type: "int16", Size: 1, ScaleFactor: "VArRtg_SF", Unit: "var", Mandatory: true},
	{Name: "VArRtg_SF", Offset: 11, Type: "sunssf", Size: 1, Mandatory: true},
	{Name: "ARtg", Offset: 12, Type: "uint16", Size: 1, ScaleFactor: "ARtg_SF", Unit: "A", Mandatory: true},
	{Name: "ARtg_SF", Offset: 13, Type: "sunssf", Size: 1, Mandatory: true},
	{Name: "PFRtgQ1", Offset: 14, Type: "int16", Size: 1, ScaleFactor: "PFRtg_SF", Unit: "cos()", Mandatory: true},
	{Name: "PFRtgQ2", Offset: 15, Type: "int16", Size: 1, ScaleFactor: "PFRtg_SF", Unit: "cos()", Mandatory: true},
	{Name: "PFRtgQ3", Offset: 16, Type: "int16", Size: 1, ScaleFactor: "PFRtg_SF", Unit: "cos()", Mandatory: true},
	{Name: "PFRtgQ4", Offset: 17, Type: "int16", Size: 1, ScaleFactor: "PFRtg_SF", Unit: "cos()", Mandatory: true},
	{Name: "PFRtg_SF", Offset: 18, Type: "sunssf", Size: 1, Mandatory: true},
	{Name: "WHRtg", Offset: 19, Type: "uint16", Size: 1, ScaleFactor: "WHRtg_SF", Unit: "Wh"},
	{Name: "WHRtg_SF", Offset: 20, Type: "sunssf", Size: 1},
	{Name: "AhrRtg", Offset: 21, Type: "uint16", Size: 1, ScaleFactor: "AhrRtg_SF", Unit: "AH"},
	{Name: "AhrRtg_SF", Offset: 22, Type: "sunssf", Size: 1},
	{Name: "MaxChaRte", Offset: 23, Type: "uint16", Size: 1, ScaleFactor: "MaxChaRte_SF", Unit: "W"},
	{Name: "MaxChaRte_SF", Offset: 24, Type: "sunssf", Size: 1},
	{Name: "MaxDisChaRte", Offset: 25, Type: "uint16", Size: 1, ScaleFactor: "MaxDisChaRte_SF", Unit: "W"},
	{Name: "MaxDisChaRte_SF", Offset: 26, Type: "sunssf", Size: 1},
	{Name: "Pad", Offset: 27, Type: "pad", Size: 1},
}}}

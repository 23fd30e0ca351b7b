// Code generated from the SunSpec model definitions by emulator/registers/internal/gen; DO NOT EDIT.

package sunspec

var model124 = Model{ID: 124, Group: Group{Name: "storage_basic", Points: []Point{
	{Name: "ID", Offset: 0, Type: "uint16", Size: 1, Mandatory: true},
	{Name: "L", Offset: 1, Type: "uint16", Size: 1, Mandatory: true},
	{Name: "WChaMax", Offset: 2, Type: "uint16", Size: 1, ScaleFactor: "WChaMax_SF", Unit: "W", Writable: true, Mandatory: true},
	{Name: "WChaGra", Offset: 3, Type: "uint16", Size: 1, ScaleFactor: "WChaDisChaGra_SF", Unit: "% WChaMax/sec", Writable: true, Mandatory: true},
	{Name: "WDisChaGra", Offset: 4, Type: "uint16", Size: 1, ScaleFactor: "WChaDisChaGra_SF", Unit: "% WChaMax/sec", Writable: true, Mandatory: true},
	{Name: "StorCtl_Mod", Offset: 5, Type: "bitfield16", Size: 1, Writable: true, Mandatory: true, Symbols: []Symbol{{"CHARGE", 0}, {"DiSCHARGE", 1}}},
	{Name: "VAChaMax", Offset: 6, Type: "uint16", Size: 1, ScaleFactor: "VAChaMax_SF", Unit: "VA", Writable: true},
	{Name: "MinRsvPct", Offset: 7, Type: "uint16", Size: 1, ScaleFactor: "MinRsvPct_SF", Unit: "% WChaMax", Writable: true},
	{Name: "ChaState", Offset: 8, Type: "uint16", Size: 1, ScaleFactor: "ChaState_SF", Unit: "% AhrRtg"},
	{Name: "StorAval", Offset: 9, Type: "uint16", Size: 1, ScaleFactor: "StorAval_SF", Unit: "AH"},
	{Name: "InBatV", Offset: 10, Type: "uint16", Size: 1, ScaleFactor: "InBatV_SF", Unit: "V"},
	{Name: "ChaSt", Offset: 11, Type: "enum16", Size: 1, Symbols: []Symbol{{"OFF", 1}, {"EMPTY", 2}, {"DISCHARGING", 3}, {"CHARGING", 4}, {"FULL", 5}, {"HOLDING", 6}, {"TESTING", 7}}},
	{Name: "OutWRte", Offset: 12, Type: "int16", Size: 1, ScaleFactor: "InOutWRte_SF", Unit: "% WDisChaMax", Writable: true},
	{Name: "InWRte", Offset: 13, Type: "int16", Size: 1, ScaleFactor: "InOutWRte_SF", Unit: " % WChaMax", Writable: true},
	{Name: "InOutWRte_WinTms", Offset: 14, Type: "uint16", Size: 1, Unit: "Secs", Writable: true},
	{Name: "InOutWRte_RvrtTms", Offset: 15, Type: "uint16", Size: 1, Unit: "Secs", Writable: true},
	{Name: "InOutWRte_RmpTms", Offset: 16, Type: "uint16", Size: 1, Unit: "Secs", Writable: true},
	{Name: "ChaGriSet", Offset: 17, Type: "enum16", Size: 1, Writable: true, Symbols: []Symbol{{"PV", 0}, {"GRID", 1}}},
	{Name: "WChaMax_SF", Offset: 18, Type: "sunssf", Size: 1, Mandatory: true},
	{Name: "WChaDisChaGra_SF", Offset: 19, Type: "sunssf", Size: 1, Mandatory: true},
	{Name: "VAChaMax_SF", Offset: 20, Type: "sunssf", Size: 1},
	{Name: "MinRsvPct_SF", Offset: 21, Type: "sunssf", Size: 1},
	{Name: "ChaState_SF", Offset: 22, Type: "sunssf", Size: 1},
	{Name: "StorAval_SF", Offset: 23, Type: "sunssf", Size: 1},
	{Name: "InBatV_SF", Offset: 24, Type: "sunssf", Size: 1},
	{Name: "InOutWRte_SF", Offset: 25, Type: "sunssf", Size: 1},
}}}

// Code generated from the SunSpec model definitions by emulator/registers/internal/gen; DO NOT EDIT.

package sunspec

var model123 = Model{ID: 123, Group: Group{Name: "controls", Points: []Point{
	{Name: "ID", Offset: 0, Type: "uint16", Size: 1, Mandatory: true},
	{Name: "L", Offset: 1, Type: "uint16", Size: 1, Mandatory: true},
	{Name: "Conn_WinTms", Offset: 2, Type: "uint16", Size: 1, Unit: "Secs", Writable: true},
	{Name: "Conn_RvrtTms", Offset: 3, Type: "uint16", Size: 1, Unit: "Secs", Writable: true},
	{Name: "Conn", Offset: 4, Type: "enum16", Size: 1, Writable: true, Mandatory: true, Symbols: []Symbol{{"DISCONNECT", 0}, {"CONNECT", 1}}},
	{Name: "WMaxLimPct", Offset: 5, Type: "uint16", Size: 1, ScaleFactor: "WMaxLimPct_SF", Unit: "% WMax", Writable: true, Mandatory: true},
	{Name: "WMaxLimPct_WinTms", Offset: 6, Type: "uint16", Size: 1, Unit: "Secs", Writable: true},
	{Name: "WMaxLimPct_RvrtTms", Offset: 7, Type: "uint16", Size: 1, Unit: "Secs", Writable: true},
	{Name: "WMaxLimPct_RmpTms", Offset: 8, Type: "uint16", Size: 1, Unit: "Secs", Writable: true},
	{Name: "WMaxLim_Ena", Offset: 9, Type: "enum16", Size: 1, Writable: true, Mandatory: true, Symbols: []Symbol{{"DISABLED", 0}, {"ENABLED", 1}}},
	{Name: "OutPFSet", Offset: 10, Type: "int16", Size: 1, ScaleFactor: "OutPFSet_SF", Unit: "cos()", Writable: true, Mandatory: true},
	{Name: "OutPFSet_WinTms", Offset: 11, Type: "uint16", Size: 1, Unit: "Secs", Writable: true},
	{Name: "OutPFSet_RvrtTms", Offset: 12, Type: "uint16", Size: 1, Unit: "Secs", Writable: true},
	{Name: "OutPFSet_RmpTms", Offset: 13, Type: "uint16", Size: 1, Unit: "Secs", Writable: true},
	{Name: "OutPFSet_Ena", Offset: 14, Type: "enum16", Size: 1, Writable: true, Mandatory: true, Symbols: []Symbol{{"DISABLED", 0}, {"ENABLED", 1}}},
	{Name: "VArWMaxPct", Offset: 15, Type: "int16", Size: 1, ScaleFactor: "VArPct_SF", Unit: "% WMax", Writable: true},
	{Name: "VArMaxPct", Offset: 16, Type: "int16", Size: 1, ScaleFactor: "VArPct_SF", Unit: "% VArMax", Writable: true},
	{Name: "VArAvalPct", Offset: 17, Type: "int16", Size: 1, ScaleFactor: "VArPct_SF", Unit: "% VArAval", Writable: true},
	{Name: "VArPct_WinTms", Offset: 18, Type: "uint16", Size: 1, Unit: "Secs", Writable: true},
	{Name: "VArPct_RvrtTms", Offset: 19, Type: "uint16", Size: 1, Unit: "Secs", Writable: true},
	{Name: "VArPct_RmpTms", Offset: 20, Type: "uint16", Size: 1, Unit: "Secs", Writable: true},
	{Name: "VArPct_Mod", Offset: 21, Type: "enum16", Size: 1, Writable: true, Symbols: []Symbol{{"NONE", 0}, {"WMax", 1}, {"VArMax", 2}, {"VArAval", 3}}},
	{Name: "VArPct_Ena", Offset: 22, Type: "enum16", Size: 1, Writable: true, Mandatory: true, Symbols: []Symbol{{"DISABLED", 0}, {"ENABLED", 1}}},
	{Name: "WMaxLimPct_SF", Offset: 23, Type: "sunssf", Size: 1, Mandatory: true},
	{Name: "OutPFSet_SF", Offset: 24, Type: "sunssf", Size: 1, Mandatory: true},
	{Name: "VArPct_SF", Offset: 25, Type: "sunssf", Size: 1},
}}}

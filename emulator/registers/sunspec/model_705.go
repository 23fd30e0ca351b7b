// Code generated from the SunSpec model definitions by emulator/registers/internal/gen; DO NOT EDIT.

package sunspec

var model705 = Model{ID: 705, Group: Group{Name: "DERVoltVar", Points: []Point{
	{Name: "ID", Offset: 0, Type: "uint16", Size: 1, Mandatory: true},
	{Name: "L", Offset: 1, Type: "uint16", Size: 1, Mandatory: true},
	{Name: "Ena", Offset: 2, Type: "enum16", Size: 1, Writable: true, Mandatory: true, Symbols: []Symbol{{"DISABLED", 0}, {"ENABLED", 1}}},
	{Name: "AdptCrvReq", Offset: 3, Type: "uint16", Size: 1, Writable: true, Mandatory: true},
	{Name: "AdptCrvRslt", Offset: 4, Type: "enum16", Size: 1, Mandatory: true, Symbols: []Symbol{{"IN_PROGRESS", 0}, {"COMPLETED", 1}, {"FAILED", 2}}},
	{Name: "NPt", Offset: 5, Type: "uint16", Size: 1, Mandatory: true},
	{Name: "NCrv", Offset: 6, Type: "uint16", Size: 1, Mandatory: true},
	{Name: "RvrtTms", Offset: 7, Type: "uint32", Size: 2, Unit: "Secs", Writable: true},
	{Name: "RvrtRem", Offset: 9, Type: "uint32", Size: 2, Unit: "Secs"},
	{Name: "RvrtCrv", Offset: 11, Type: "uint16", Size: 1, Writable: true},
	{Name: "V_SF", Offset: 12, Type: "sunssf", Size: 1, Mandatory: true},
	{Name: "DeptRef_SF", Offset: 13, Type: "sunssf", Size: 1, Mandatory: true},
	{Name: "RspTms_SF", Offset: 14, Type: "sunssf", Size: 1, Mandatory: true},
}, Groups: []Group{
	Group{Name: "Crv", Count: "NCrv", Points: []Point{
		{Name: "ActPt", Offset: 0, Type: "uint16", Size: 1, Writable: true, Mandatory: true},
		{Name: "DeptRef", Offset: 1, Type: "enum16", Size: 1, Writable: true, Mandatory: true, Symbols: []Symbol{{"W_MAX_PCT", 0}, {"VAR_MAX_PCT", 1}, {"VAR_AVAL_PCT", 2}, {"VA_MAX_PCT", 3}}},
		{Name: "Pri", Offset: 2, Type: "enum16", Size: 1, Writable: true, Symbols: []Symbol{{"ACTIVE", 0}, {"REACTIVE", 1}, {"VENDOR", 2}}},
		{Name: "VRef", Offset: 3, Type: "uint16", Size: 1, ScaleFactor: "V_SF", Unit: "VNomPct", Writable: true},
		{Name: "VRefAuto", Offset: 4, Type: "uint16", Size: 1, ScaleFactor: "V_SF", Unit: "VNomPct"},
		{Name: "VRefAutoEna", Offset: 5, Type: "enum16", Size: 1, Writable: true, Symbols: []Symbol{{"DISABLED", 0}, {"ENABLED", 1}}},
		{Name: "VRefAutoTms", Offset: 6, Type: "uint16", Size: 1, Unit: "Secs", Writable: true},
		{Name: "RspTms", Offset: 7, Type: "uint32", Size: 2, ScaleFactor: "RspTms_SF", Unit: "Secs", Writable: true},
		{Name: "ReadOnly", Offset: 9, Type: "enum16", Size: 1, Mandatory: true, Symbols: []Symbol{{"RW", 0}, {"R", 1}}},
	}, Groups: []Group{
		Group{Name: "Pt", Count: "NPt", Points: []Point{
			{Name: "V", Offset: 0, Type: "uint16", Size: 1, ScaleFactor: "V_SF", Unit: "VNomPct", Writable: true},
			{Name: "Var", Offset: 1, Type: "int16", Size: 1, ScaleFactor: "DeptRef_SF", Unit: "DeptRef", Writable: true},
		}},
	}},
}}}

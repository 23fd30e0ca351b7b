// Code generated from the SunSpec model definitions by emulator/registers/internal/gen; DO NOT EDIT.

package sunspec

var model711 = Model{ID: 711, Group: Group{Name: "DERFreqDroop", Points: []Point{
	{Name: "ID", Offset: 0, Type: "uint16", Size: 1, Mandatory: true},
	{Name: "L", Offset: 1, Type: "uint16", Size: 1, Mandatory: true},
	{Name: "Ena", Offset: 2, Type: "enum16", Size: 1, Writable: true, Mandatory: true, Symbols: []Symbol{{"DISABLED", 0}, {"ENABLED", 1}}},
	{Name: "AdptCtlReq", Offset: 3, Type: "uint16", Size: 1, Writable: true, Mandatory: true},
	{Name: "AdptCtlRslt", Offset: 4, Type: "enum16", Size: 1, Mandatory: true, Symbols: []Symbol{{"IN_PROGRESS", 0}, {"COMPLETED", 1}, {"FAILED", 2}}},
	{Name: "NCtl", Offset: 5, Type: "uint16", Size: 1, Mandatory: true},
	{Name: "RvrtTms", Offset: 6, Type: "uint32", Size: 2, Unit: "Secs", Writable: true},
	{Name: "RvrtRem", Offset: 8, Type: "uint32", Size: 2, Unit: "Secs"},
	{Name: "RvrtCtl", Offset: 10, Type: "uint16", Size: 1, Writable: true},
	{Name: "Db_SF", Offset: 11, Type: "sunssf", Size: 1, Mandatory: true},
	{Name: "K_SF", Offset: 12, Type: "sunssf", Size: 1, Mandatory: true},
	{Name: "RspTms_SF", Offset: 13, Type: "sunssf", Size: 1, Mandatory: true},
}, Groups: []Group{
	Group{Name: "Ctl", Count: "NCtl", Points: []Point{
		{Name: "DbOf", Offset: 0, Type: "uint32", Size: 2, ScaleFactor: "Db_SF", Unit: "Hz", Writable: true, Mandatory: true},
		{Name: "DbUf", Offset: 2, Type: "uint32", Size: 2, ScaleFactor: "Db_SF", Unit: "Hz", Writable: true, Mandatory: true},
		{Name: "KOf", Offset: 4, Type: "uint16", Size: 1, ScaleFactor: "K_SF", Writable: true, Mandatory: true},
		{Name: "KUf", Offset: 5, Type: "uint16", Size: 1, ScaleFactor: "K_SF", Writable: true, Mandatory: true},
		{Name: "RspTms", Offset: 6, Type: "uint32", Size: 2, ScaleFactor: "RspTms_SF", Unit: "Secs", Writable: true, Mandatory: true},
		{Name: "PMin", Offset: 8, Type: "int16", Size: 1, Unit: "Pct", Writable: true},
		{Name: "ReadOnly", Offset: 9, Type: "enum16", Size: 1, Mandatory: true, Symbols: []Symbol{{"RW", 0}, {"R", 1}}},
	}},
}}}

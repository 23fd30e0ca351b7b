// Code generated from the SunSpec model definitions by emulator/registers/internal/gen; DO NOT EDIT.

package sunspec

var model714 = Model{ID: 714, Group: Group{Name: "DERMeasureDC", Points: []Point{
	{Name: "ID", Offset: 0, Type: "uint16", Size: 1, Mandatory: true},
	{Name: "L", Offset: 1, Type: "uint16", Size: 1, Mandatory: true},
	{Name: "PrtAlrms", Offset: 2, Type: "bitfield32", Size: 2},
	{Name: "NPrt", Offset: 4, Type: "uint16", Size: 1},
	{Name: "DCA", Offset: 5, Type: "int16", Size: 1, ScaleFactor: "DCA_SF", Unit: "A"},
	{Name: "DCW", Offset: 6, Type: "int16", Size: 1, ScaleFactor: "DCW_SF", Unit: "W"},
	{Name: "DCWhInj", Offset: 7, Type: "uint64", Size: 4, ScaleFactor: "DCWH_SF", Unit: "Wh"},
	{Name: "DCWhAbs", Offset: 11, Type: "uint64", Size: 4, ScaleFactor: "DCWH_SF", Unit: "Wh"},
	{Name: "DCA_SF", Offset: 15, Type: "sunssf", Size: 1},
	{Name: "DCV_SF", Offset: 16, Type: "sunssf", Size: 1},
	{Name: "DCW_SF", Offset: 17, Type: "sunssf", Size: 1},
	{Name: "DCWH_SF", Offset: 18, Type: "sunssf", Size: 1},
	{Name: "Tmp_SF", Offset: 19, Type: "sunssf", Size: 1},
}, Groups: []Group{
	Group{Name: "Prt", Count: "NPrt", Points: []Point{
		{Name: "PrtTyp", Offset: 0, Type: "enum16", Size: 1, Symbols: []Symbol{{"PV", 0}, {"ESS", 1}, {"EV", 2}, {"INJ", 3}, {"ABS", 4}, {"BIDIR", 5}, {"DC_DC", 6}}},
		{Name: "ID", Offset: 1, Type: "uint16", Size: 1},
		{Name: "IDStr", Offset: 2, Type: "string", Size: 8},
		{Name: "DCA", Offset: 10, Type: "int16", Size: 1, ScaleFactor: "DCA_SF", Unit: "A"},
		{Name: "DCV", Offset: 11, Type: "uint16", Size: 1, ScaleFactor: "DCV_SF", Unit: "V"},
		{Name: "DCW", Offset: 12, Type: "int16", Size: 1, ScaleFactor: "DCW_SF", Unit: "W"},
		{Name: "DCWhInj", Offset: 13, Type: "uint64", Size: 4, ScaleFactor: "DCWH_SF", Unit: "Wh"},
		{Name: "DCWhAbs", Offset: 17, Type: "uint64", Size: 4, ScaleFactor: "DCWH_SF", Unit: "Wh"},
		{Name: "Tmp", Offset: 21, Type: "int16", Size: 1, ScaleFactor: "Tmp_SF", Unit: "C"},
		{Name: "DCSta", Offset: 22, Type: "enum16", Size: 1, Symbols: []Symbol{{"OFF", 0}, {"ON", 1}, {"WARNING", 2}, {"ERROR", 3}}},
		{Name: "DCAlrm", Offset: 23, Type: "bitfield32", Size: 2, Symbols: []Symbol{{"GROUND_FAULT", 0}, {"INPUT_OVER_VOLTAGE", 1}, {"DC_DISCONNECT", 3}, {"CABINET_OPEN", 5}, {"MANUAL_SHUTDOWN", 6}, {"OVER_TEMP", 7}, {"BLOWN_FUSE", 12}, {"UNDER_TEMP", 13}, {"MEMORY_LOSS", 14}, {"ARC_DETECTION", 15}, {"RESERVED", 19}, {"TEST_FAILED", 20}, {"INPUT_UNDER_VOLTAGE", 21}, {"INPUT_OVER_CURRENT", 22}}},
	}},
}}}

// Code generated from the SunSpec model definitions by emulator/registers/internal/gen; DO NOT EDIT.

package sunspec

var model122 = Model{ID: 122, Group: Group{Name: "status", Points: []Point{
	{Name: "ID", Offset: 0, Type: "uint16", Size: 1, Mandatory: true},
	{Name: "L", Offset: 1, Type: "uint16", Size: 1, Mandatory: true},
	{Name: "PVConn", Offset: 2, Type: "bitfield16", Size: 1, Mandatory: true, Symbols: []Symbol{{"CONNECTED", 0}, {"AVAILABLE", 1}, {"OPERATING", 2}, {"TEST", 3}}},
	{Name: "StorConn", Offset: 3, Type: "bitfield16", Size: 1, Mandatory: true, Symbols: []Symbol{{"CONNECTED", 0}, {"AVAILABLE", 1}, {"OPERATING", 2}, {"TEST", 3}}},
	{Name: "ECPConn", Offset: 4, Type: "bitfield16", Size: 1, Mandatory: true, Symbols: []Symbol{{"DISCONNECTED", 0}, {"CONNECTED", 1}}},
	{Name: "ActWh", Offset: 5, Type: "acc64", Size: 4, Unit: "Wh"},
	{Name: "ActVAh", Offset: 9, Type: "acc64", Size: 4, Unit: "VAh"},
	{Name: "ActVArhQ1", Offset: 13, Type: "acc64", Size: 4, Unit: "varh"},
	{Name: "ActVArhQ2", Offset: 17, Type: "acc64", Size: 4, Unit: "varh"},
	{Name: "ActVArhQ3", Offset: 21, Type: "acc64", Size: 4, Unit: "varh"},
	{Name: "ActVArhQ4", Offset: 25, Type: "acc64", Size: 4, Unit: "varh"},
	{Name: "VArAval", Offset: 29, Type: "int16", Size: 1, ScaleFactor: "VArAval_SF", Unit: "var"},
	{Name: "VArAval_SF", Offset: 30, Type: "sunssf", Size: 1},
	{Name: "WAval", Offset: 31, Type: "uint16", Size: 1, ScaleFactor: "WAval_SF", Unit: "var"},
	{Name: "WAval_SF", Offset: 32, Type: "sunssf", Size: 1},
	{Name: "StSetLimMsk", Offset: 33, Type: "bitfield32", Size: 2, Symbols: []Symbol{{"WMax", 0}, {"VAMax", 1}, {"VArAval", 2}, {"VArMaxQ1", 3}, {"VArMaxQ2", 4}, {"VArMaxQ3", 5}, {"VArMaxQ4", 6}, {"PFMinQ1", 7}, {"PFMinQ2", 8}, {"PFMinQ3", 9}, {"PFMinQ4", 10}}},
	{Name: "StActCtl", Offset: 35, Type: "bitfield32", Size: 2, Symbols: []Symbol{{"FixedW", 0}, {"FixedVAR", 1}, {"FixedPF", 2}, {"Volt-VAr", 3}, {"Freq-Watt-Param", 4}, {"Freq-Watt-Curve", 5}, {"Dyn-Reactive-Current", 6}, {"LVRT", 7}, {"HVRT", 8}, {"Watt-PF", 9}, {"Volt-Watt", 10}, {"Scheduled", 12}, {"LFRT", 13}, {"HFRT", 14}}},
	{Name: "TmSrc", Offset: 37, Type: "string", Size: 4},
	{Name: "Tms", Offset: 41, Type: "uint32", Size: 2, Unit: "Secs"},
	{Name: "RtSt", Offset: 43, Type: "bitfield16", Size: 1, Symbols: []Symbol{{"LVRT_ACTIVE", 0}, {"HVRT_ACTIVE", 1}, {"LFRT_ACTIVE", 2}, {"HFRT_ACTIVE", 3}}},
	{Name: "Ris", Offset: 44, Type: "uint16", Size: 1, ScaleFactor: "Ris_SF", Unit: "ohms"},
	{Name: "Ris_SF", Offset: 45, Type: "sunssf", Size: 1},
}}}

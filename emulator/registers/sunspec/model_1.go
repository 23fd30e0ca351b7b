// Code generated from the SunSpec model definitions by emulator/registers/internal/gen; DO NOT EDIT.

package sunspec

var model1 = Model{ID: 1, Group: Group{Name: "common", Points: []Point{
	{Name: "ID", Offset: 0, Type: "uint16", Size: 1, Mandatory: true},
	{Name: "L", Offset: 1, Type: "uint16", Size: 1, Mandatory: true},
	{Name: "Mn", Offset: 2, Type: "string", Size: 16, Mandatory: true},
	{Name: "Md", Offset: 18, Type: "string", Size: 16, Mandatory: true},
	{Name: "Opt", Offset: 34, Type: "string", Size: 8},
	{Name: "Vr", Offset: 42, Type: "string", Size: 8},
	{Name: "SN", Offset: 50, Type: "string", Size: 16, Mandatory: true},
	{Name: "DA", Offset: 66, Type: "uint16", Size: 1, Writable: true},
	{Name: "Pad", Offset: 67, Type: "pad", Size: 1},
}}}

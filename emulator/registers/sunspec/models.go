// Code generated from the SunSpec model definitions by emulator/registers/internal/gen; DO NOT EDIT.

package sunspec

// models lists every model in ascending order of id.
var models = []*Model{
	&model1,
	&model101,
	&model102,
	&model103,
	&model111,
	&model112,
	&model113,
	&model120,
	&model121,
	&model122,
	&model123,
	&model124,
	&model201,
	&model202,
	&model203,
	&model204,
	&model211,
	&model212,
	&model213,
	&model214,
	&model701,
	&model702,
	&model703,
	&model704,
	&model705,
	&model706,
	&model711,
	&model713,
	&model714,
	&model802,
	&model803,
}

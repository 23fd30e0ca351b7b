// Package sunspec holds facts about SunSpec information models: the id of each model, and of each point its
// name, offset, type, size, scale-factor point, access, unit and symbols. It knows nothing of devices.
//
// The model_*.go files are generated from the standard's own JSON definitions, which are not part of this
// repository. To make them again, name the folder that holds model_*.json:
//
//	KILTER_SUNSPEC=folder go generate ./emulator/registers/sunspec
package sunspec

//go:generate go run ../internal/gen -out .

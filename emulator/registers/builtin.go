package registers

import (
	"embed"
	"fmt"
	"slices"
	"sync"
)

//go:embed builtin/*.yaml
var builtinFiles embed.FS

// builtins are made when they are first asked for.
var builtins = []struct {
	name string
	make func() *Map
}{
	{"bench clock", declared("bench_clock")},
	{"charger", declared("charger")},
	{"pv meter", declared("pv_meter")},
	{"south", declared("south")},
	{"tariff", declared("tariff")},
	{"sunspec inverter", func() *Map { return SunSpecInverter(3) }},
	{"sunspec single-phase inverter", func() *Map { return SunSpecInverter(1) }},
	{"sunspec battery inverter", func() *Map { return SunSpecBattery(3) }},
	{"sunspec single-phase battery inverter", func() *Map { return SunSpecBattery(1) }},
	{"sunspec pv inverter", func() *Map { return SunSpecPV(3) }},
	{"sunspec single-phase pv inverter", func() *Map { return SunSpecPV(1) }},
	{"sunspec der", SunSpecDER},
	{"sunspec der pv", SunSpecDERPV},
	{"sunspec meter", func() *Map { return SunSpecMeter(3) }},
	{"sunspec single-phase meter", func() *Map { return SunSpecMeter(1) }},
}

func declared(file string) func() *Map {
	return sync.OnceValue(func() *Map {
		name := "builtin/" + file + ".yaml"
		src, err := builtinFiles.ReadFile(name)
		if err != nil {
			panic(err)
		}
		m, err := ParseMap(name, src)
		if err != nil {
			panic(err)
		}
		return m
	})
}

// Builtin returns a map that comes with the bench; all callers share it.
func Builtin(name string) (*Map, error) {
	names := BuiltinNames()
	if i := slices.Index(names, name); i >= 0 {
		return builtins[i].make(), nil
	}
	if close := nearest(name, names); close != "" {
		return nil, fmt.Errorf("no built-in map %q; did you mean %q?", name, close)
	}
	return nil, fmt.Errorf("no built-in map %q; there are %s", name, alternatives(names))
}

// BuiltinNames lists the maps that come with the bench.
func BuiltinNames() []string {
	names := make([]string, len(builtins))
	for i := range builtins {
		names[i] = builtins[i].name
	}
	return names
}

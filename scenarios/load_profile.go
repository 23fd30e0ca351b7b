package scenarios

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"kilter/physics"
)

// powerTable is a CSV file of what a load drew: the header is time,power (in W),
// or names the unit as power [W] or power [kW].
var powerTable = tableKind{
	noun: "power", holds: "a CSV of measured power",
	header: "time,power or time,power [kW]",
	find: func(header []string) (tableColumns, bool) {
		units := map[string]float64{"power": 1, "power [w]": 1, "power [kw]": 1000}
		for i := range header {
			header[i] = strings.ToLower(strings.TrimSpace(header[i]))
		}
		value := slices.IndexFunc(header, func(name string) bool { return units[name] > 0 })
		if header[0] != "time" || value < 0 {
			return tableColumns{}, false
		}
		return tableColumns{date: -1, time: 0, value: value, unit: units[header[value]]}, true
	},
	value: func(text string, unit float64) (v float64, found, wanted string) {
		if v, found, wanted = anyPower(text, unit); wanted == "" && v < 0 {
			return 0, "the power " + text, "0 or more, since a load draws"
		}
		return v, found, wanted
	},
}

// netTable is the same of a net load, which may feed.
var netTable = tableKind{noun: powerTable.noun, holds: powerTable.holds, header: powerTable.header, find: powerTable.find, value: anyPower}

func anyPower(text string, unit float64) (v float64, found, wanted string) {
	v, err := strconv.ParseFloat(text, 64)
	switch {
	case err != nil || math.IsNaN(v):
		return 0, "the power " + quoted(text), "a number"
	case math.Abs(v)*unit > most:
		return 0, "the power " + text, "a power that a site can have"
	}
	return v * unit, "", ""
}

// measuredProfile reads a profile from a file and lays it on the run: its clock
// on the local clock. A site without a story takes it from the file's beginning.
func (b *siteBuilder) measuredProfile(name text, kind *tableKind) []physics.ProfilePoint {
	moments, err := b.moments(name, kind)
	if err != nil {
		b.take(err)
		return nil
	}
	var points []physics.ProfilePoint
	for _, m := range moments {
		points = append(points, physics.ProfilePoint{AtMS: m.atMS, PowerW: m.value})
	}
	return points
}

func (b *siteBuilder) moments(name text, kind *tableKind) ([]moment, error) {
	file, err := besideFile(name, "power")
	if err != nil {
		return nil, err
	}
	t, err := readTable(file, kind)
	if err != nil {
		return nil, err
	}
	if b.clock.alone {
		first := b.clock.starts
		if !t.sinceStart {
			first = first.Add(t.rows[0].clock)
		}
		return t.from(first, 0)
	}
	return t.from(b.clock.starts, b.clock.lasts)
}

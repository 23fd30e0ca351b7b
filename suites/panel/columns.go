package panel

import (
	"fmt"
	"math"
	"strings"

	"kilter/emulator"
	"kilter/physics"
	"kilter/scenarios"
)

// column is one live figure.
type column struct {
	Name   string `json:"name"`
	Device string `json:"device"` // as the diagram calls it
	Label  string `json:"label"`
	Unit   string `json:"unit"`
	Kind   string `json:"kind"`

	quantum float64
	read    func() float64
}

// state is one live word.
type state struct {
	Device string `json:"device"`

	read func(t *emulator.Tick) string
}

func columnsOf(sc *scenarios.Scenario, p *physics.Plant) []column {
	supply := sc.Site.Plant.Feeders[0].Name
	list := []column{{Name: "grid", Device: supply, Label: "grid flow", Unit: "W", Kind: "grid", quantum: 0.1, read: func() float64 { return p.GridW }}}
	for i := range p.Site().Phases {
		line := fmt.Sprintf("L%d", i+1)
		list = append(list, column{Name: "voltage_" + line, Device: supply, Label: "voltage " + line, Unit: "V", Kind: "voltage", quantum: 0.01,
			read: func() float64 { return p.VoltageV(physics.L1 + physics.Phases(i)) }})
	}
	for _, d := range sc.Site.Devices {
		i, label := d.Index, strings.ReplaceAll(d.Name, "_", " ")
		power := func(read func() float64) {
			list = append(list, column{Name: d.Name, Device: d.Name, Label: label, Unit: "W", Kind: d.Kind.String(), quantum: 0.1, read: read})
		}
		switch d.Kind {
		case scenarios.Inverter:
			power(func() float64 { return p.Inverters[i].PowerW })
			list = append(list, column{Name: d.Name + "_soc", Device: d.Name, Label: label, Unit: "%", Kind: "soc", quantum: 0.01,
				read: func() float64 { return 100 * p.Inverters[i].Battery.SOC }})
		case scenarios.Meter:
			power(func() float64 { return p.Meters[i].ReadingW })
		case scenarios.Array:
			power(func() float64 { return p.Arrays[i].PowerW })
		case scenarios.Load:
			power(func() float64 { return p.Loads[i].PowerW })
		case scenarios.Charger:
			power(func() float64 { return p.Chargers[i].PowerW })
		}
	}
	return list
}

func statesOf(sc *scenarios.Scenario, p *physics.Plant) []state {
	var list []state
	place := 0
	for _, d := range sc.Site.Devices {
		i := d.Index
		var word func() string
		switch d.Kind {
		case scenarios.Inverter:
			word = func() string { return inverterWord(&p.Inverters[i]) }
		case scenarios.Charger:
			word = func() string { return chargerWord(&p.Chargers[i]) }
		case scenarios.Tariff:
			list = append(list, state{Device: d.Name, read: func(t *emulator.Tick) string {
				return map[bool]string{true: "cheap now", false: "not cheap"}[t.Cheap]
			}})
		}
		link := -1
		if d.Wire != nil {
			link, place = place, place+1
		}
		if word == nil && link < 0 || d.Kind == scenarios.Tariff {
			continue
		}
		list = append(list, state{Device: d.Name, read: func(t *emulator.Tick) string {
			text := ""
			if word != nil {
				text = word()
			}
			if link >= 0 && link < len(t.Lost) && t.Lost[link] {
				text = strings.TrimPrefix(text+", link lost", ", ")
			}
			return text
		}})
	}
	return list
}

func inverterWord(v *physics.Inverter) string {
	switch {
	case v.Tripped:
		return "tripped"
	case v.Forming:
		return "carries its island"
	case !v.OnSupply():
		return "off the supply"
	}
	return v.Mode.String()
}

func chargerWord(c *physics.Charger) string {
	switch {
	case !c.Plugged:
		return "no vehicle"
	case c.PowerW == 0:
		return "paused"
	}
	return "charging"
}

// rounded is a figure without the digits that nobody can read.
func rounded(v, quantum float64) float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return 0
	}
	return math.Round(v/quantum) / math.Round(1/quantum)
}

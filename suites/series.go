package suites

import (
	"fmt"
	"math"
	"strings"

	"kilter/emulator/trace"
	"kilter/physics"
	"kilter/scenarios"
	"kilter/suites/report"
	"kilter/suites/verdict"
)

// series prepares an outcome for drawing.
func series(out *Outcome) report.Series {
	sc, rec := out.Scenario, out.Trace
	s := report.Series{StepS: rec.StepS, StartLocal: sc.Starts.In(sc.Zone)}
	for i := range rec.Columns {
		c := &rec.Columns[i]
		if c.Kind == trace.State {
			s.States = append(s.States, spans(c, rec.StepS))
			continue
		}
		label := strings.ReplaceAll(c.Device, "_", " ")
		switch c.Kind {
		case trace.Grid:
			label = "grid flow"
		case trace.NetLoad:
			label = "net load"
		case trace.Wanted:
			label += " aims at"
		case trace.Circulating:
			label = "circulating power"
		case trace.Voltage:
			label = "voltage " + strings.ToUpper(c.Device)
		}
		tells := ""
		if c.Kind == trace.Meter {
			label += " told"
			tells = told(sc, c.Device)
		}
		s.Columns = append(s.Columns, report.Column{
			Name: c.Name, Label: label, Device: c.Device, Unit: c.Unit, Kind: report.Kind(c.Kind), Tells: tells,
			Values: c.Values, Min: c.Min, Max: c.Max,
		})
	}
	s.States = append(s.States, links(out.Events, out.Run.DurationS)...)
	for _, e := range out.Events {
		m := report.Mark{AtS: e.At.Seconds(), Label: e.Text, Kind: report.Event}
		if e.Link != nil {
			m.Kind = report.Fault
		}
		s.Marks = append(s.Marks, m)
	}
	for _, c := range out.Record.Commands {
		label, value := c.Signal.Word(c.Value), c.Value
		if label != "" {
			value = math.NaN() // the number of a state is no height
		}
		if c.Lapsed {
			label = "lapsed"
		}
		s.Marks = append(s.Marks, report.Mark{
			AtS: float64(c.Tick) * sc.Step.Seconds(), Kind: report.Command, Label: label,
			Lane: c.Device + " " + c.Signal.String(), Value: value, Unit: c.Signal.Unit(),
		})
	}
	if m := sc.Must.Import; m != nil {
		s.Bounds.ImportW = verdict.Of(m.BelowW)
	}
	if m := sc.Must.Export; m != nil {
		s.Bounds.ExportW = verdict.Of(m.BelowW)
	}
	for _, w := range sc.ImportWanted {
		s.Bounds.Wanted = append(s.Bounds.Wanted, report.Window{FromS: w.From.Seconds(), ToS: w.To.Seconds(), Label: "import wanted"})
	}
	return s
}

// told names the column whose truth a meter tells to a controller: the grid flow, for a meter at the inlet
// that answers on the wire.
func told(sc *scenarios.Scenario, meter string) string {
	d, _ := sc.Site.Find(meter)
	if d.Wire == nil || sc.Site.Plant.Meters[d.Index].Feeder != 0 {
		return ""
	}
	return "grid_w"
}

// wiring lays the site out as the tree that it is.
func wiring(sc *scenarios.Scenario) report.Wiring {
	plant := &sc.Site.Plant
	var lay func(feeder int) report.Wiring
	lay = func(feeder int) report.Wiring {
		w := report.Wiring{Name: plant.Feeders[feeder].Name, Kind: "feeder"}
		if feeder == 0 {
			w.Kind, w.Detail = "supply", fmt.Sprintf("%s, %g V", verdict.Counted(plant.Phases, "phase"), plant.Supply.VoltageV)
			if plant.Supply.FuseA > 0 {
				w.Detail += fmt.Sprintf(", fuse %g A", plant.Supply.FuseA)
			} else {
				w.Symbol = "no fuse"
			}
		}
		for _, d := range sc.Site.Devices {
			if d.Feeder != w.Name {
				continue
			}
			x := report.Wiring{Name: d.Name, Kind: d.Kind.String(), Detail: detail(plant, d)}
			switch d.Kind {
			case scenarios.Meter:
				x.Sees, x.Reversed = downstream(sc.Site, feeder), plant.Meters[d.Index].Reversed
			case scenarios.Load:
				x.Symbol = loadSymbols[plant.Loads[d.Index].Kind]
			}
			w.Within = append(w.Within, x)
		}
		for i := range plant.Feeders {
			if plant.Feeders[i].Parent == feeder {
				w.Within = append(w.Within, lay(i))
			}
		}
		return w
	}
	return lay(0)
}

// loadSymbols are the symbols of loads that have one of their own.
var loadSymbols = map[physics.LoadKind]string{
	physics.ThermostatLoad: "heater", physics.BurstLoad: "heater", physics.MotorLoad: "motor",
}

// downstream lists the devices whose sum a meter on a feeder reads.
func downstream(site *scenarios.Site, feeder int) []string {
	plant := &site.Plant
	below := make(map[string]bool, len(plant.Feeders))
	for i, f := range plant.Feeders { // a parent stands before its children
		below[f.Name] = i == feeder || (f.Parent >= 0 && below[plant.Feeders[f.Parent].Name])
	}
	var names []string
	for _, d := range site.Devices {
		if d.Kind != scenarios.Meter && d.Kind != scenarios.Tariff && below[d.Feeder] {
			names = append(names, d.Name)
		}
	}
	return names
}

// detail says in a few words what a device is.
func detail(plant *physics.Site, d scenarios.Device) string {
	switch d.Kind {
	case scenarios.Inverter:
		v := &plant.Inverters[d.Index]
		text := fmt.Sprintf("%g kW, %g kWh", v.RatingW/1000, v.Battery.CapacityWh/1000)
		if v.Loop.Meter >= 0 {
			text += ", follows " + plant.Meters[v.Loop.Meter].Name
		}
		return text
	case scenarios.Meter:
		m := &plant.Meters[d.Index]
		text := strings.Replace(fmt.Sprintf("every %g s, %g s late, offset %g W", m.RefreshS, m.LatencyS, m.OffsetW), "offset -", "offset −", 1)
		if m.Reversed {
			text += ", fitted the wrong way round"
		}
		return text
	case scenarios.Array:
		return fmt.Sprintf("%g kWp", plant.Arrays[d.Index].PeakW/1000)
	case scenarios.Load:
		return fmt.Sprintf("%g kW", plant.Loads[d.Index].PowerW/1000)
	case scenarios.Charger:
		return fmt.Sprintf("up to %g A", plant.Chargers[d.Index].MaxA)
	}
	return ""
}

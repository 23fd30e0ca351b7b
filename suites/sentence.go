package suites

import (
	"slices"

	"kilter/physics"
	"kilter/scenarios"
	"kilter/suites/criteria"
)

// sentenceStatement is a sentence of temporal logic that a scenario states.
func sentenceStatement(site *scenarios.Site, f scenarios.Formula) statement {
	s := statement{
		name: criteria.FormulaPrefix + f.Name,
		make: func(c *setting) (criteria.Monitor, error) {
			of, err := site.ParseFormula(f.Sentence)
			if err != nil {
				return nil, err
			}
			return criteria.NewFormula(criteria.Formula{Name: f.Name, Sentence: f.Sentence, Of: of, Signals: len(site.Signals())}, c.step)
		},
	}
	for _, x := range spokenBy(site, f) {
		if column := x.column(); !slices.Contains(s.speaksOf, column) {
			s.speaksOf = append(s.speaksOf, column)
		}
	}
	return s
}

// spoken is a signal of which a sentence speaks, with its place among the site's.
type spoken struct {
	scenarios.Signal
	place  int
	feeder int // of a meter
}

// spokenOf are the signals of which a scenario's sentences speak.
func spokenOf(sc *scenarios.Scenario) []spoken {
	var list []spoken
	for _, f := range sc.Must.Formulas {
		for _, x := range spokenBy(sc.Site, f) {
			if !slices.Contains(list, x) {
				list = append(list, x)
			}
		}
	}
	return list
}

// spokenBy are those of which one speaks. A sentence that cannot be read speaks of none; its monitor says why.
func spokenBy(site *scenarios.Site, f scenarios.Formula) []spoken {
	of, err := site.ParseFormula(f.Sentence)
	if err != nil {
		return nil
	}
	all := site.Signals()
	var list []spoken
	for _, i := range of.Reads() {
		x := spoken{Signal: all[i], place: i}
		if x.Device.Kind == scenarios.Meter {
			x.feeder = site.Plant.Meters[x.Device.Index].Feeder
		}
		list = append(list, x)
	}
	return list
}

// value is what the signal is at the end of a step.
func (x *spoken) value(p *physics.Plant) float64 {
	i := x.Device.Index
	switch x.Shows {
	case scenarios.GridFlow:
		return p.GridW
	case scenarios.NetLoad:
		return p.NetLoadW
	case scenarios.SupplyAmps:
		return p.Supply().AmpsA[x.Line]
	case scenarios.StateOfCharge:
		return p.Inverters[i].Battery.SOC
	case scenarios.ToldCharge:
		return p.Inverters[i].Battery.ToldSOC()
	case scenarios.MeterReading:
		return p.Meters[i].ReadingW
	case scenarios.MeterTruth:
		return p.FeederW(x.feeder)
	}
	switch x.Device.Kind {
	case scenarios.Inverter:
		return p.Inverters[i].PowerW
	case scenarios.Array:
		return p.Arrays[i].PowerW
	case scenarios.Load:
		return p.Loads[i].PowerW
	}
	return p.Chargers[i].PowerW
}

// column is where the trace shows it, or what is nearest to it.
func (x *spoken) column() string {
	switch x.Shows {
	case scenarios.GridFlow, scenarios.SupplyAmps:
		return "grid_w"
	case scenarios.NetLoad:
		return "net_load_w"
	case scenarios.StateOfCharge, scenarios.ToldCharge:
		return x.Device.Name + "_soc"
	}
	return x.Device.Name + "_w"
}

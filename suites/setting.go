package suites

import (
	"time"

	"kilter/physics"
	"kilter/scenarios"
	"kilter/suites/criteria"
)

// setting is what monitors are made of: what must hold, and where.
type setting struct {
	*scenarios.Must
	scenario  *scenarios.Scenario
	step      time.Duration
	batteries []string // the inverters, in the plant's order
	devices   []string // those on the wire, in the site's order
}

func newSetting(sc *scenarios.Scenario) *setting {
	c := &setting{Must: &sc.Must, scenario: sc, step: sc.Step}
	for _, v := range sc.Site.Plant.Inverters {
		c.batteries = append(c.batteries, v.Name)
	}
	for _, d := range sc.Site.Devices {
		if d.Wire != nil {
			c.devices = append(c.devices, d.Name)
		}
	}
	return c
}

// schedule takes what the story leaves open from the site: charging must leave alone the import that was agreed, and is
// expected to bring as much into store as it does in the site's worst battery.
func (c *setting) schedule() criteria.Schedule {
	m, site := c.Schedule, &c.scenario.Site.Plant
	p := criteria.Schedule{Target: m.Target, Below: m.Missing, ImportBelowW: m.ImportBelowW, Efficiency: m.Efficiency, Names: c.batteries}
	if m.During != nil {
		p.From, p.To = m.During.From, m.During.To
	}
	if p.ImportBelowW == 0 {
		p.ImportBelowW = site.Supply.ImportLimitW
	}
	if p.Efficiency == 0 {
		p.Efficiency = worstEfficiency(site)
	}
	return p
}

// cautiousEfficiency stands in for a battery whose efficiency depends on more than a figure: common practice, no source.
const cautiousEfficiency = 0.85

// worstEfficiency is the least share of AC energy that arrives in one of the site's batteries.
func worstEfficiency(site *physics.Site) float64 {
	worst := 1.0
	for i := range site.Inverters {
		v := &site.Inverters[i]
		e := v.Efficiency * v.Battery.ChargeEfficiency
		if v.EfficiencyForm != physics.ConstantEfficiency || v.Battery.Cell != nil || v.SelfConsumptionW > 0 {
			e = min(e, cautiousEfficiency)
		}
		worst = min(worst, e)
	}
	return worst
}

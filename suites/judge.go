package suites

import (
	"errors"
	"fmt"

	"kilter/emulator"
	"kilter/scenarios"
	"kilter/suites/criteria"
)

// judge feeds what the bench shows to the monitors that a scenario asks for.
type judge struct {
	monitors []criteria.Monitor
	sample   criteria.Sample
}

func newJudge(sc *scenarios.Scenario) (*judge, error) {
	j := &judge{}
	j.sample.StepS = sc.Step.Seconds()
	j.sample.Inverters = make([]criteria.InverterSample, len(sc.Site.Plant.Inverters))
	add := func(m criteria.Monitor, err error) error {
		if err == nil {
			j.monitors = append(j.monitors, m)
		}
		return err
	}
	var err error
	must := &sc.Must
	if m := must.Import; err == nil && m != nil {
		err = add(criteria.NewImport(criteria.FlowLimit{BelowW: m.BelowW, Except: m.Except}, sc.Step))
	}
	if m := must.Export; err == nil && m != nil {
		err = add(criteria.NewExport(criteria.FlowLimit{BelowW: m.BelowW, Except: m.Except}, sc.Step))
	}
	if m := must.Settle; err == nil && m != nil {
		err = add(criteria.NewSettle(criteria.Settle{BandW: m.BandW, Within: m.Within}, sc.Step))
	}
	if m := must.Hunting; err == nil && m != nil {
		err = add(criteria.NewHunting(criteria.Hunting{BelowW: m.BelowW, GoneWithin: m.GoneWithin}, sc.Step))
	}
	if m := must.Circulating; err == nil && m != nil {
		err = add(criteria.NewCirculating(criteria.Circulating{BelowW: m.BelowW, Except: m.Except}, sc.Step))
	}
	if m := must.SOCSpread; err == nil && m != nil {
		err = add(criteria.NewSOCSpread(criteria.SOCSpread{Below: m.Below, From: m.From, Names: batteries(sc)}, sc.Step))
	}
	if err != nil {
		return nil, fmt.Errorf("%s: must: %w", sc.Source, err)
	}
	return j, nil
}

// batteries names the inverters in the plant's order.
func batteries(sc *scenarios.Scenario) []string {
	var names []string
	for _, v := range sc.Site.Plant.Inverters {
		names = append(names, v.Name)
	}
	return names
}

// Check says all that keeps a scenario from being played and judged, beyond what its file alone shows.
func Check(sc *scenarios.Scenario) error {
	_, err := newJudge(sc)
	return errors.Join(err, emulator.Check(sc))
}

// see judges one tick.
func (j *judge) see(t *emulator.Tick) {
	p, s := t.Plant, &j.sample
	s.Tick = p.Tick()
	s.GridW, s.NetLoadW, s.GivenW = p.GridW, p.NetLoadW, p.GivenW
	s.Disturbed, s.Unfolding = t.Disturbed, t.Unfolding
	s.Controller = criteria.ControllerState(t.Controller)
	s.ImportWanted, s.ExportWanted = t.ImportWanted, t.ExportWanted
	for i := range p.Inverters {
		v := &p.Inverters[i]
		s.Inverters[i] = criteria.InverterSample{
			ACPowerW: v.PowerW, BatteryW: v.BatteryW, SOC: v.Battery.SOC,
			ChargeRoomW: v.ChargeRoomW(), DischargeRoomW: v.DischargeRoomW(),
		}
	}
	for _, m := range j.monitors {
		m.Observe(s)
	}
}

// results are the findings in the order in which the scenario states them.
func (j *judge) results() []criteria.Result {
	list := make([]criteria.Result, len(j.monitors))
	for i, m := range j.monitors {
		list[i] = m.Result()
	}
	return list
}
